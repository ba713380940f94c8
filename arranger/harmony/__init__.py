"""Stage 2, Song to Arrangement: the timeline, both hands, suspensions and octave fills."""
