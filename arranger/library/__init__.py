"""Many songs: found, read, made into parts, listed and looked up."""
