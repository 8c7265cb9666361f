"""The bench file: a description of pipe, instruments and place, read as a `Bench`.

=====================  ===========================================================
`bench`                `Bench`: pipe, instruments, place, laws
`toml_table`           a TOML file as tables that know their dotted keys
`statement_table`      statements and values with units, as a bench file writes them
`possible_values`      uncertainties that cannot be
`scale_table`          scale and accuracy of an instrument
`thermometer_table`    a thermometer with its corrections
`meter_table`          meters by data sheet or calibration
`manometer_table`      the manometer by its type
`pipe_table`           bore, taps, roughness
`liquid_table`         what flows
`manometer_kinds`      what each kind asks of bench and sheet
`flowing_liquid`       `FlowingLiquid`, `Mixture`
`bench_file`           `load_bench`
=====================  ===========================================================
"""
