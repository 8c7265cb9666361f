"""What readings and notes of a sheet say of each other, before any theory.

=====================  ===========================================================
`consistency`          readings of a sheet against each other
`column_balance`       both columns of all runs, and their zero
`mirrored_columns`     whether one column mirrors the other
`fine_readings`        readings finer than their scale is read to
`repeat_checks`        whether the repeats of a run belong together
`dye_notes`            what a note says of the dye, against the regime
=====================  ===========================================================
"""
