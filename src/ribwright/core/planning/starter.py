"""The network a project starts with: the work that is not sheet metal, in general words.

Hours are wide guesses (common practice, no source); a project replaces them by its own.
"""

from __future__ import annotations

from ribwright.core.planning.tasks import Item, Task

SOURCE = "common practice, no source"

# key, title, hours, factor up or down, trade, needs, parts, flags (h helper, w warm, d daylight), cure hours
_ROWS: tuple[tuple[str, str, float, float, str, str, str, str, float], ...] = (
    ("fuel-system", "Fuel lines, tanks vented, valves and filter", 60, 1.6, "systems", "", "", "", 0),
    ("fuel-leak-test", "Fuel tanks leak test", 6, 1.8, "systems", "fuel-system", "", "", 48),
    ("brakes", "Wheels, brakes and lines", 25, 1.5, "systems", "", "wheels", "", 0),
    ("gear-fit", "Landing gear fitted", 30, 1.6, "systems", "brakes", "", "h", 0),
    ("controls", "Control runs and stops rigged", 60, 1.6, "systems", "", "", "h", 0),
    ("pitot-static", "Pitot and static lines, leak test", 15, 1.7, "systems", "", "", "", 0),
    ("panel-plan", "Instrument panel laid out", 20, 1.8, "electrics", "", "", "", 0),
    ("panel-build", "Instrument panel cut and wired", 90, 1.7, "electrics", "panel-plan", "instruments", "", 0),
    ("wiring", "Wiring in the airframe", 100, 1.7, "electrics", "panel-plan", "", "", 0),
    ("power-on", "First power on, circuit by circuit", 15, 1.9, "electrics", "panel-build wiring", "", "", 0),
    ("engine-mount", "Engine mount fitted", 12, 1.5, "engine", "", "engine-mount-kit", "h", 0),
    ("engine-hung", "Engine hung", 10, 1.6, "engine", "engine-mount", "engine", "h", 0),
    ("firewall-forward", "Hoses, cables and baffles ahead of the firewall", 110, 1.6, "engine", "engine-hung", "", "", 0),
    ("exhaust", "Exhaust and cabin heat", 15, 1.6, "engine", "engine-hung", "", "", 0),
    ("cowling", "Cowling trimmed and fitted", 60, 1.7, "finish", "firewall-forward exhaust propeller-fit", "", "h", 24),
    ("propeller-fit", "Propeller and spinner fitted", 15, 1.5, "engine", "engine-hung", "propeller", "h", 0),
    ("canopy", "Canopy cut and fitted", 80, 1.8, "finish", "", "canopy-blank", "w", 24),
    ("tips", "Fairings and tips fitted", 50, 1.7, "finish", "", "", "w", 24),
    ("interior", "Seats, belts and upholstery", 40, 1.7, "finish", "controls", "seats", "", 0),
    ("prepare-paint", "Surfaces prepared for paint", 70, 1.8, "finish", "tips cowling canopy", "", "w", 0),
    ("prime", "Primer sprayed", 20, 1.6, "finish", "prepare-paint", "paint", "wh", 72),
    ("paint", "Top coat sprayed", 35, 1.8, "finish", "prime", "", "wh", 168),
    ("marks", "Registration marks and placards", 8, 1.6, "finish", "paint registration", "", "", 0),
    ("registration", "Registration applied for and received", 4, 1.8, "paper", "", "", "", 1440),
    ("record-complete", "Record and photographs complete", 20, 1.8, "paper", "", "", "", 0),
    ("move", "Moved to the airfield", 12, 1.6, "assembly", "paint interior power-on fuel-leak-test", "", "h", 0),
    ("assembly", "Wings and tail put on and rigged", 40, 1.6, "assembly", "move gear-fit controls pitot-static", "", "hd", 0),
    ("weighing", "Weighed, centre of gravity found", 6, 1.5, "paper", "assembly", "", "h", 0),
    ("first-start", "First engine start and leak check", 10, 1.9, "engine", "assembly", "", "hd", 0),
    ("own-inspection", "Whole aeroplane gone over with a second person", 25, 1.6, "inspection", "assembly marks weighing first-start", "", "h", 0),
    ("application", "Application with its papers sent", 8, 1.7, "paper", "weighing record-complete registration", "", "", 720),
    ("inspection", "Official inspection", 8, 1.5, "inspection", "own-inspection application", "", "d", 0),
    ("defects", "What the inspection found put right", 15, 2.5, "inspection", "inspection", "", "", 48),
    ("taxi", "Taxi tests", 6, 1.8, "flight", "defects", "", "d", 0),
    ("first-flight", "First flight", 4, 1.8, "flight", "taxi", "", "d", 0),
)  # fmt: skip

_ITEMS: tuple[tuple[str, str, float, float, float, float], ...] = (
    ("engine", "Engine", 420, 1.4, 30_000, 6_000),
    ("engine-mount-kit", "Engine mount", 120, 1.4, 1_600, 400),
    ("propeller", "Propeller", 150, 1.4, 4_500, 1_000),
    ("instruments", "Instruments and radio", 60, 1.5, 12_000, 0),
    ("canopy-blank", "Canopy blank", 120, 1.5, 1_500, 300),
    ("wheels", "Wheels, brakes and tyres", 60, 1.5, 1_800, 0),
    ("seats", "Seats and belts", 60, 1.5, 1_500, 0),
    ("paint", "Primer and paint", 14, 1.5, 1_500, 0),
)


def starter_tasks() -> tuple[Task, ...]:
    """The tasks beside the metal, each marked with where its hours come from."""
    return tuple(
        Task(
            key=key,
            title=title,
            hours=hours,
            spread=spread,
            trade=trade,
            needs=tuple(needs.split()),
            parts=tuple(parts.split()),
            helper="h" in flags,
            warm="w" in flags,
            daylight="d" in flags,
            cure_hours=cure,
            source=SOURCE,
        )
        for key, title, hours, spread, trade, needs, parts, flags, cure in _ROWS
    )


def starter_items() -> tuple[Item, ...]:
    """The long-lead items beside the kit; prices and times are wide guesses."""
    return tuple(
        Item(key=key, title=title, lead_days=days, lead_spread=spread, price=price, deposit=deposit)
        for key, title, days, spread, price, deposit in _ITEMS
    )
