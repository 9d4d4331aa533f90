"""What every page of ours brings along: its style sheet, and peace from the notebook's keys."""

STYLE = """
<style>
.enginecalc-answer { font-size: 1.25em; line-height: 1.4; margin: .2em 0; max-width: 60em; }
.enginecalc-error { border-left: .4em solid #D55E00; padding: .3em .8em; white-space: pre-line; }
.enginecalc-error b, .enginecalc-doubt b { font-weight: 700; }
.enginecalc-doubt { margin: .4em 0; padding-left: .8em; border-left: .4em solid #BFBFBF;
  white-space: pre-line; line-height: 1.35; }
.enginecalc-field .widget-label { text-align: left; }
.enginecalc-words td:nth-last-child(2) { white-space: normal !important; }
@media (max-width: 900px) { .enginecalc-table table { font-size: .9em; }
  .enginecalc-table th, .enginecalc-table td { padding: .25em .35em; } }
.enginecalc-field textarea { width: 100% !important; white-space: pre; }
.enginecalc-numbers p, .enginecalc-caption :is(p, ol)
  { line-height: 1.4 !important; margin: .5em 0; max-width: 60em; }
.enginecalc-numbers .widget-html-content { max-width: 100%; overflow-x: auto; }
.enginecalc-table { overflow-x: auto; }
.enginecalc-table table { border-collapse: collapse; font-size: 1.05em; line-height: 1.35;
  margin: .4em 0; }
.enginecalc-table caption
  { text-align: left; white-space: normal; font-weight: 600; padding: .2em 0; }
.enginecalc-table th, .enginecalc-table td
  { padding: .25em .55em; border-bottom: 1px solid #BFBFBF; text-align: right;
    white-space: nowrap; }
.enginecalc-table th[scope=row], .enginecalc-table th:first-child { text-align: left; }
.enginecalc-words td:last-child, .enginecalc-words th:last-child
  { text-align: left !important; white-space: normal !important; min-width: 11em; font-size: .9em; }
.enginecalc-caption ol { padding-left: 1.8em; }
.enginecalc-picture svg { display: block; max-width: 64em; background: white; }
.enginecalc-stale { opacity: .35; }
.jupyter-widgets.enginecalc-wrong :is(input, textarea) { box-shadow: 0 0 0 3px #D55E00 !important; }
.enginecalc-field .noUi-handle { width: 24px !important; height: 24px !important;
  top: -11px !important; right: -12px !important; border-radius: 12px !important; }
.enginecalc-group { font-weight: 600; margin: .5em 0 0; border-bottom: 1px solid #BFBFBF; }
.enginecalc-choices li { font-size: 1.15em; line-height: 1.4; }
.enginecalc-work { display: grid; gap: 0 1em; align-items: start;
  grid-template: "now how" auto "done how" 1fr / minmax(0, 1fr) minmax(0, 1.15fr); }
.enginecalc-work > :nth-child(1) { grid-area: now; }
.enginecalc-work > :nth-child(2) { grid-area: how; }
.enginecalc-work > :nth-child(3) { grid-area: done; }
@media (max-width: 900px) { .enginecalc-work
  { grid-template: "now" auto "how" auto "done" auto / minmax(0, 1fr); } }
.enginecalc-facts table { font-size: 1.2em !important; }
.enginecalc-facts :is(th, td) { white-space: normal !important; text-align: left !important;
  vertical-align: top; }
.enginecalc-facts th { white-space: nowrap !important; }
.enginecalc-left :is(td, th) { text-align: left !important; white-space: normal !important; }
.enginecalc-left :is(td, th):last-child { min-width: 6.5em !important; }
.enginecalc-left th[scope=row] { white-space: nowrap !important; }
.enginecalc-wrongs { border-left: .4em solid #D55E00; margin: .4em 0; }
.enginecalc-wrongs li { line-height: 1.4; margin: .3em 0; }
</style>
"""


# In a notebook letters are commands, on a dropdown or a button as well: "m" there would turn the
# cell into text and take the page away. Whatever has the focus on a page of ours is spared that.
KEYS = (
    '<img src="data:," hidden onerror="this.closest(\'.enginecalc-page\').addEventListener('
    "'focusin', event => event.target.setAttribute('data-lm-suppress-shortcuts', 'true'))\">"
)
