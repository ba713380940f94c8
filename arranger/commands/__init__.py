"""The commands, a file each, with `run(options)`: takes what was typed, gives an exit status."""
