"""From content to placed lines: how wide, broken where, in which rows, drawn how."""
