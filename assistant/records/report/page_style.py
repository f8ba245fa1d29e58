"""The style sheet of the printed pages: readable on a wall, on a screen and on paper."""

from assistant.records.report.palette import (
    BAD,
    BAD_PAPER,
    GOOD,
    GOOD_PAPER,
    INK,
    MUTED,
    OPEN,
    OPEN_PAPER,
    PANEL,
    PAPER,
    RULE,
)

STYLE = f"""
* {{ box-sizing: border-box; }}
html {{ background: {PAPER}; color: {INK}; -webkit-print-color-adjust: exact;
  print-color-adjust: exact; }}
body {{ font: 17px/1.5 system-ui, "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif;
  margin: 0 auto; max-width: 60rem; padding: 2rem 1.5rem 3rem; }}
h1 {{ font-size: 2.1rem; line-height: 1.15; margin: 0; }}
h2 {{ font-size: 1.3rem; line-height: 1.2; margin: 2.4rem 0 .6rem; }}
h3 {{ font-size: 1.15rem; margin: 0; }}
p {{ margin: .5rem 0; max-width: 46rem; }}
.about {{ color: {MUTED}; margin: .3rem 0 1.2rem; max-width: none; }}
.verdict {{ border-left: .6rem solid; border-radius: .3rem; font-size: 1.35rem;
  font-weight: 650; line-height: 1.3; margin: 1rem 0 1.4rem; max-width: none;
  padding: .8rem 1.1rem; }}
.verdict small {{ display: block; font-size: 1rem; font-weight: 400; }}
.good {{ background: {GOOD_PAPER}; border-color: {GOOD}; color: {GOOD}; }}
.bad {{ background: {BAD_PAPER}; border-color: {BAD}; color: {BAD}; }}
.open {{ background: {OPEN_PAPER}; border-color: {OPEN}; color: {OPEN}; }}
.pair {{ display: grid; gap: 1.2rem; grid-template-columns: 1fr 1fr; }}
.card {{ background: {PANEL}; border-radius: .6rem; padding: 1rem 1.2rem; }}
.card dl {{ display: grid; font-size: 1.05rem; gap: .2rem 1rem;
  grid-template-columns: max-content 1fr; margin: .4rem 0 0; }}
.card dt {{ color: {MUTED}; }}
.card dd {{ font-weight: 600; margin: 0; }}
.table-drawing {{ display: block; margin: .4rem auto; max-width: 23rem; width: 100%; }}
.chart {{ display: block; height: auto; margin: .4rem 0; max-width: 40rem; width: 100%; }}
svg text {{ font-family: inherit; font-variant-numeric: tabular-nums; }}
figure {{ margin: 0; }}
.key {{ max-width: none; }}
.key svg {{ height: 1em; vertical-align: -.1em; width: 2.1em; }}
.key span {{ margin-right: 1.6rem; white-space: nowrap; }}
table {{ border-collapse: collapse; font-variant-numeric: tabular-nums; }}
th, td {{ border-bottom: 1px solid {RULE}; padding: .35rem 1.5rem .35rem 0; text-align: left;
  vertical-align: top; }}
th {{ color: {MUTED}; font-weight: 600; }}
td.number, th.number {{ text-align: right; }}
ol {{ margin: .4rem 0; padding-left: 1.4rem; }}
li {{ margin: .25rem 0; }}
ul {{ margin: .4rem 0; padding-left: 1.3rem; }}
.large dl {{ display: grid; font-size: 1.4rem; gap: .3rem 1.4rem;
  grid-template-columns: max-content 1fr; line-height: 1.3; margin: 1.4rem 0; }}
.large dt {{ color: {MUTED}; }}
.large dd {{ font-weight: 650; margin: 0; }}
.scan {{ align-items: center; break-inside: avoid; display: flex; gap: 1.2rem; }}
.scan .code {{ flex: none; width: 12rem; }}
.small {{ color: {MUTED}; font-size: .9rem; max-width: none; }}
footer {{ border-top: 1px solid {RULE}; margin-top: 2.5rem; padding-top: .6rem; }}
@media (max-width: 40rem) {{
  body {{ padding: 1rem; }}
  .pair {{ grid-template-columns: 1fr; }}
  .scan {{ flex-wrap: wrap; }}
  table {{ width: 100%; }}
  th, td {{ font-size: .9rem; padding-right: .6rem; }}
  th:last-child, td:last-child {{ padding-right: 0; }}
  .many thead {{ display: none; }}
  .many tr {{ border-bottom: 1px solid {RULE}; display: grid; gap: .1rem .6rem;
    grid-template-columns: repeat(3, 1fr); padding: .4rem 0; }}
  .many td {{ border: 0; padding: .1rem 0; text-align: left; }}
  .many td:empty {{ display: none; }}
  .many td:first-child {{ font-weight: 650; grid-column: 1 / -1; }}
  .many td::before {{ color: {MUTED}; content: attr(data-head); display: block; font-size: .8rem;
    font-weight: 400; }}
  .many td:first-child::before {{ display: inline; font-size: .9rem; margin-right: .4rem; }}
  .card dl {{ grid-template-columns: 1fr; gap: 0; }}
  .card dd {{ margin-bottom: .5rem; }}
  .card dt:empty {{ display: none; }}
}}
@media print {{
  @page {{ margin: 12mm 14mm; size: auto; }}
  body {{ font-size: 10.5pt; max-width: none; padding: 0; }}
  h1 {{ font-size: 20pt; }}
  h2 {{ break-after: avoid; font-size: 13pt; margin-top: 7mm; }}
  .card, .verdict, figure, .whole, tr, li {{ break-inside: avoid; }}
  th, td {{ padding-bottom: .1rem; padding-top: .1rem; }}
  .table-drawing {{ margin: 0 auto; max-width: 60mm; }}
  .chart {{ max-width: 150mm; }}
  .card dl {{ font-size: 10.5pt; }}
  .large dl {{ font-size: 15pt; margin: 3mm 0; }}
  .scan .code {{ width: 38mm; }}
  footer {{ margin-top: 6mm; }}
  .verdict {{ font-size: 14pt; }}
  thead {{ display: table-header-group; }}
}}
"""
"""No font, image or sheet from elsewhere: the page is complete in itself."""
