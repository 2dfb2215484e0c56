"""Where a display lands the fields of a prediction, and what is said of it."""

from __future__ import annotations

from typing import Any

from scalesim.chain import Chain
from scalesim.chain.resolve import Resolved
from scalesim.tube.display import Display, display_named
from scalesim.tube.lock.on_display import OnDisplay
from scalesim.tube.lock.words import landing_sentences

NOT_ASKED = "no display was given, so fields land where their content lies"


def on_display(chain: Chain, display: Display | str | None) -> Chain:
    """Return a chain whose fields land where a display draws them; the chain itself for no display."""
    if display is None:
        return chain
    return chain.landing(OnDisplay(display if isinstance(display, Display) else display_named(display)))


def display_on(chain: Chain) -> OnDisplay | None:
    """Return the display of a chain, None where there is none."""
    return chain.lands if isinstance(chain.lands, OnDisplay) else None


def landing_notes(chain: Chain, resolved: Resolved) -> tuple[str, ...]:
    """Return what a reader must know: no circuit was asked although the sync is changed, or none locks."""
    on = display_on(chain)
    if on is None:
        changed = resolved.signal.sync is not None
        return (f"resync: {NOT_ASKED} (name a display with [vertical])",) if changed else ()
    warning = on.warning(resolved.signal)
    return (warning,) if warning else ()


def landing_said(chain: Chain, resolved: Resolved) -> list[str]:
    """Return where the display's circuit lands the fields, and what else it may do, in sentences."""
    on = display_on(chain)
    found = None if on is None else on.landed(resolved.signal)
    if on is None or found is None:
        return []
    return [*landing_sentences(on.display.name, found), "Pictures are of the values first named."]


def landing_keys(chain: Chain, resolved: Resolved) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the document's key with the landing on the display, if one was given, and why there is none."""
    on = display_on(chain)
    if on is None:
        return {}, {}
    found = on.landed(resolved.signal)
    if found is None:
        return {"landing": None}, {"landing": on.why_ideal(resolved.signal)}
    return {"landing": [{"display": on.display.name, **found.to_dict()}]}, {}
