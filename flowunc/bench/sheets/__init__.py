"""Lab sheets: CSV files read as rows, runs, and sets between zero rows.

=====================  ===========================================================
`sheet`                `Sheet`: rows, runs, and sets between zero rows
`text`                 a CSV file as cells with their lines
`columns`              the header of a sheet, and the number in a cell
`rows`                 one row: cells to readings in the units of the instruments
`form`                 the columns of a bench's sheets
`file`                 `read_sheet`
`run_sets`             which rows belong together
=====================  ===========================================================
"""
