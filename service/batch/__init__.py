"""Many gardens at once: a sheet or a stream of plans in, one line a garden out, in order and in flat memory."""
