"""What is known and what to flag: readers of the fact and rule files."""
