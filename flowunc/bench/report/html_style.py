"""The look of a report in a browser: light, dark, on a phone and on paper."""

__all__ = ["STYLE"]

# Cells that begin with = or + are text for a spreadsheet program that opens the page, too.
STYLE = """\
:root {
  --ink: #1b1f24; --soft: #57606a; --paper: #ffffff; --tint: #f3f5f7; --line: #d0d7de;
  --link: #0b5cad; --alert: #fff4d6; --alert-line: #b7791f;
}
@media (prefers-color-scheme: dark) {
  :root {
    --ink: #e6e8eb; --soft: #a3abb5; --paper: #14171b; --tint: #1f242b; --line: #3a424c;
    --link: #7db8f5; --alert: #3a2f12; --alert-line: #d9a441;
  }
}
* { box-sizing: border-box; }
body {
  margin: 0; background: var(--paper); color: var(--ink);
  font: 16px/1.55 system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", Arial, sans-serif;
}
main { max-width: 60rem; margin: 0 auto; padding: 1.5rem 1.25rem 4rem; overflow-wrap: break-word; }
h1 { font-size: 1.8rem; line-height: 1.25; margin: 0 0 1rem; }
h2 { font-size: 1.3rem; margin: 2.5rem 0 .75rem; border-bottom: 1px solid var(--line); }
h3 { font-size: 1.05rem; margin: 1.75rem 0 .5rem; }
p, ul, ol { margin: .6rem 0; }
li { margin: .25rem 0; }
a { color: var(--link); }
nav ol { columns: 2; column-gap: 2rem; padding-left: 1.5rem; }
.remark {
  background: var(--alert); border-left: 4px solid var(--alert-line); padding: .6rem .9rem;
}
.formula {
  font: italic 1.1rem/1.6 "Cambria Math", Cambria, "STIX Two Text", "Times New Roman", serif;
  margin: .6rem 1.5rem;
}
.wide { overflow-x: auto; margin: 1rem 0; }
.wide:focus-visible { outline: 2px solid var(--link); outline-offset: 2px; }
table {
  border-collapse: collapse; font-size: .875rem; line-height: 1.4;
  font-variant-numeric: tabular-nums; overflow-wrap: normal;
}
caption { caption-side: top; text-align: left; color: var(--soft); padding: .25rem 0 .4rem; }
th, td {
  padding: .3rem .65rem; border-bottom: 1px solid var(--line); vertical-align: top;
  text-align: left; mso-number-format: "\\@";
}
th { background: var(--tint); vertical-align: bottom; }
tbody tr:nth-child(even) td { background: var(--tint); }
.r { text-align: right; white-space: nowrap; }
th.r { white-space: normal; }
td.l { max-width: 20rem; overflow-wrap: break-word; }
td.w { min-width: 10rem; max-width: 28rem; overflow-wrap: break-word; }
figure { margin: 1.5rem 0; }
figure img {
  display: block; width: 100%; max-width: 48rem; height: auto; background: #ffffff;
  border: 1px solid var(--line); border-radius: 4px;
}
figcaption { color: var(--soft); font-size: .9rem; max-width: 48rem; padding-top: .4rem; }
.sources { padding-left: 1.2rem; }
@media (max-width: 40rem) { nav ol { columns: 1; } h1 { font-size: 1.45rem; } }
@media print {
  :root {
    --ink: #000000; --soft: #333333; --paper: #ffffff; --tint: #f2f2f2; --line: #999999;
    --link: #000000; --alert: #ffffff; --alert-line: #000000;
  }
  body { font-size: 10pt; }
  main { max-width: none; padding: 0; }
  nav { display: none; }
  a { text-decoration: none; }
  .wide { overflow: visible; }
  table { font-size: 8pt; width: auto; max-width: 100%; }
  th, td { padding: .15rem .35rem; }
  td.w { min-width: 0; }
  thead { display: table-header-group; }
  tr, figure { break-inside: avoid; }
  h2, h3, caption { break-after: avoid; }
}
"""
