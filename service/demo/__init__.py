"""The demo garden that comes with the program."""
