"""Reports of analysed runs: an error-analysis section to hand in, or to audit.

==================  =================================================================
`content`           what a report consists of, free of any format
`wording`           numbers, units and names in a report
`sources`           entries of the list of sources, and which of them are cited
`apparatus`         manometers and liquids: names and formulas
`asked`             what a report asks of the runs, each once
`measured`          sections: what was measured, readings, bench
`stated_errors`     every error with what is stated of it
`method`            section: formulas and their sources
`results`           sections: in short, results, what stands between
`budgets`           sections: linear method against draws, budgets
`advice`            sections: readings against each other, what to change
`theory`            sections: agreement with the laws, fits
`provenance`        section: versions, draws, checksums
`pictures`          the charts, and where they are drawn
`document`          all sections in their order
`html_style`        the look of a page
`html`              content as HTML
`markdown`          content as Markdown
`latex_text`        plain text and formulas as LaTeX source
`latex`             content as LaTeX
`writing`           files written whole or not at all
`report`            `write_report`
==================  =================================================================

The sections know nothing of formats, the writers nothing of pipes. Charts come from
`flowunc.bench.charts` and need matplotlib; a report without it says so.
"""

from flowunc.bench.report.document import TITLE
from flowunc.bench.report.report import write_report

__all__ = ["TITLE", "write_report"]
