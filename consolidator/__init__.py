"""The program that makes the day whole: intake, close of day, ledger, and the desk."""
