"""Turn an Arrangement into a Performance: every note of both hands, the octaves and the pad, in time.

In the order of the work: `model` (the values), `strikes` (notes as they are written: values, rests, ties come from
these), `perform` (the same notes as they sound: swing, pushes, holds, loudness, pedal, tempo).
"""
