"""The trade's arithmetic: threads, wires, strength, hardness, temperature; values in, values out."""
