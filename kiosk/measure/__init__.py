"""The trade's arithmetic: threads, wires, strength, hardness, temperature, decision rules; values in, values out."""
