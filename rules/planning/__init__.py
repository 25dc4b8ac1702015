"""What to do: fixes that were tried."""
