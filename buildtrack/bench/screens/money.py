"""The currency of a build, asked where the first amount is entered, and changed by a command."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from buildtrack.bench.drafts import THE_BUILD
from buildtrack.bench.screens.ask import AskText
from buildtrack.model.edit import EditError, Hand, set_currency

if TYPE_CHECKING:
    from buildtrack.bench.screens.place import Place

AMOUNT = " 0123456789.,-+"
"""What of a typed amount is not its currency."""
MORE = "A short word or sign, like EUR or €. It stands behind every amount of this build; nothing is converted."


def ask_currency(place: Place, typed: str = "", then: Callable[[], None] = lambda: None) -> None:
    """Ask for the currency of the build, and go on; also where it is left unsaid. typed: the amount as typed."""
    build = place.desk.build

    def refuse(text: str) -> str:
        try:
            set_currency(build, text, Hand(place.program.around.clock()))
        except EditError as error:
            return str(error)
        return ""

    def answered(text: str | None) -> None:
        if text and text != place.desk.build.currency:
            _set(place, text)
        then()

    asked = AskText("Which currency are the prices in?", MORE, about=THE_BUILD, placeholder="for instance EUR",
                    text=build.currency or typed.strip(AMOUNT), needed="type a currency, or press Esc", refuse=refuse)
    place.app.push_screen(asked, answered)


def _set(place: Place, text: str) -> None:
    try:
        place.desk.change(lambda now, hand: set_currency(now, text, hand))
    except EditError as error:  # the file may be read-only
        place.say(str(error), "bad")
        return
    place.program.build_changed()


def is_asked(place: Place, dimension: str) -> bool:
    """Whether the currency is to be asked before an amount is entered: none is said yet."""
    return dimension == "money" and not place.desk.build.currency and not place.desk.refusal()
