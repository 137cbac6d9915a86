"""What is drawn of the results of each job: filled here, asked for through `freecool.core.presentation`."""

from __future__ import annotations

from freecool.core.presentation import PRESENTATIONS, Presentation
from freecool.show.html import compare_page, notebook_html, pick_page, value_page
from freecool.show.plots import EstimatePlots, RulesPlots, SweepPlots
from freecool.show.tables import compare_text, pick_text
from freecool.show.text import answer_text

PRESENTATIONS["value"] = Presentation(text=answer_text, page=value_page, plots=EstimatePlots, notebook=notebook_html)
PRESENTATIONS["pick"] = Presentation(text=pick_text, page=pick_page, plots=SweepPlots, notebook=notebook_html)
PRESENTATIONS["compare"] = Presentation(text=compare_text, page=compare_page, plots=RulesPlots, notebook=notebook_html)
