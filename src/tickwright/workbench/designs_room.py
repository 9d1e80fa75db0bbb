"""The room of designs: the wish and its cards, claims, netlists, plans side by side, and the chart that is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright import Plan
from tickwright.workbench.chart_panel import ChartPanel
from tickwright.workbench.choose_panel import ChoosePanel
from tickwright.workbench.compare_panel import ComparePanel
from tickwright.workbench.making_panel import ComposePanel, PlacePanel
from tickwright.workbench.rooms import Rooms

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

PARTS_OF_IT = {
    "choose": "Cards",
    "compose": "Claims",
    "place": "Netlist",
    "compare": "Side by side",
    "chart": "Chart",
}


class DesignsRoom:
    """Cards of designs, what claims and netlists come to, plans side by side, or the chart of the open plan."""

    def __init__(self, page: Page) -> None:
        self.page = page
        with ui.element("div").classes("sub-tabs"):
            self.inner = Rooms(
                PARTS_OF_IT,
                "Designs",
                {
                    "choose": lambda: ChoosePanel(page),
                    "compose": lambda: ComposePanel(page),
                    "place": lambda: PlacePanel(page),
                    "compare": lambda: ComparePanel(page),
                    "chart": lambda: ChartPanel(page),
                },
                self._shown,
            )
            self.inner.make_tabs()
        self.inner.make_panels("inner")
        self.inner.show("choose")

    @property
    def choose(self) -> ChoosePanel:
        """The wish and its cards."""
        panel: ChoosePanel = self.inner.get("choose")
        return panel

    @property
    def compare(self) -> ComparePanel:
        """The plans side by side."""
        panel: ComparePanel = self.inner.get("compare")
        return panel

    @property
    def comparing(self) -> bool:
        """Whether plans are shown side by side."""
        return self.inner.now == "compare"

    def show(self) -> None:
        """The room is shown again."""
        if self.inner.now in ("compare", "chart"):
            self.inner.get(self.inner.now).show()

    def _shown(self, name: str) -> Any:
        if name in ("compare", "chart"):
            self.inner.get(name).show()

    def refresh_chart(self) -> None:
        """The plan is another one."""
        if "chart" in self.inner.built:
            self.inner.get("chart").refresh()

    def add_plan(self, name: str, plan: Plan) -> None:
        """Have a plan compared."""
        self.compare.add_plan(name, plan)

    def side_by_side(self) -> None:
        """Show the plans that are compared."""
        self.inner.show("compare")
