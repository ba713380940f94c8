"""Set content as lines: how wide, broken where, in which rows, drawn how."""
