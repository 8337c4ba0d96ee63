"""The limits that checks compare with: each may be changed, with a reason that is recorded."""

from __future__ import annotations

from typing import ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack import units
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.reading import PAGE_BREAKPOINTS, PAGE_CSS
from buildtrack.bench.widgets.line_text import line
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.checklist import Policy
from buildtrack.model.edit import EditError, set_policy


class Limits(ModalScreen[None]):
    """Every limit with its value; Enter changes one."""

    CSS = PAGE_CSS.format(name="Limits")
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q", "leave", "close", show=False)]

    def compose(self) -> ComposeResult:
        """Title, limits, what the current one rests on, keys."""
        with Vertical():
            yield Static("Limits", markup=False, classes="page-title")
            yield LineList(id="limit-lines")
            yield Static("", markup=False, id="limit-source")
            yield Static("Enter: change it, with a reason    Esc: close", markup=False, classes="page-keys")

    @property
    def desk(self) -> Desk:
        """The open build."""
        desk = cast("BuildtrackApp", self.app).desk
        assert desk is not None, "only an open build has limits"
        return desk

    def on_mount(self) -> None:
        """Show all."""
        self._show()
        self.query_one(LineList).focus()
        self._tell_source(self.query_one(LineList).current_key)

    def _show(self) -> None:
        build = self.desk.build
        lines = []
        for policy in self.desk.checklist.policies:
            change = build.policy.get(policy.id)
            text = f"{plain(change.text)}  (was {policy.text})" if change else policy.text
            lines.append(
                line(policy.label, "accent" if change else "plain", text, policy.id, "accent" if change else "muted")
            )
        self.query_one(LineList).show(lines)

    @on(LineList.Highlighted)
    def _moved(self, event: LineList.Highlighted) -> None:
        self._tell_source(event.key)

    def _tell_source(self, name: str) -> None:
        policy = self.desk.checklist.policy.get(name)
        change = self.desk.build.policy.get(name)
        if policy is not None:
            told = f"changed because: {change.reason}" if change else f"source: {policy.source}"
            self.query_one("#limit-source", Static).update(plain(told))

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        policy = self.desk.checklist.policy[event.key]
        if refused := self.desk.refusal():
            self.query_one("#limit-source", Static).update(plain(refused))
            return
        now = self.desk.build.policy.get(policy.id)
        self.app.push_screen(
            AskText(
                policy.label,
                f"default {policy.text}; source: {policy.source}",
                about=(policy.id,),
                text=now.text if now else policy.text,
                needed="type a value, or press Esc",
            ),
            lambda text: self._value_given(policy, text),
        )

    def _value_given(self, policy: Policy, text: str | None) -> None:
        if text is None:
            return
        try:
            units.parse(text, policy.dimension, policy.unit)
        except units.QuantityError as error:
            self.query_one("#limit-source", Static).update(plain(str(error)))
            return
        self.app.push_screen(
            AskText(f"{policy.label}: {text}. Why?", "The reason is recorded with the change.", about=(policy.id,)),
            lambda reason: self._reason_given(policy, text, reason),
        )

    def _reason_given(self, policy: Policy, text: str, reason: str | None) -> None:
        if reason is None:
            return
        try:
            self.desk.change(lambda build, hand: set_policy(build, policy.id, text, reason, hand))
        except EditError as error:
            self.query_one("#limit-source", Static).update(plain(str(error)))
            return
        cast("BuildtrackApp", self.app).build_changed()
        self._show()
        self._tell_source(policy.id)

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)
