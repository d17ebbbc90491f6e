"""What to do about each kind of alarm: steps for a tired person, in the trade's terms, with what to beware of.

Steps are common practice with gravity-fed, tension-actuated emitters; they are in the order to do them, the quickest
check first. They cannot know the building: a facility adds its own text for a kind, and what they say of electricity,
plumbing and chemicals gives way to local codes and to those licensed for it. Not here: how any of it is laid out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wickwatch.fleet import Kind
from wickwatch.texts import N_, PLAIN, _, speaking

_WET_FLOOR = N_(
    "Beware: a wet floor is slippery and may be live. Keep out of water that reaches a cable, lamp or socket until its"
    " power is off at the breaker."
)
_ELECTRICITY = N_(
    "Beware: water and electricity. Keep water off plugs, lamps and boxes, and do not open a box that is wet; wiring is"
    " for a licensed electrician, by the local code."
)
_LIFTING = N_("Beware: 20 l of water weigh 20 kg, and so may a wet pot. Two people lift it, or carry less more often.")
_CARRYING = N_(
    "Beware: 20 l of water weigh 20 kg. Two people lift it, or carry less more often; stand on a steady step or ladder,"
    " never on the reservoir's stand."
)
_CHEMICALS = N_(
    "Beware: feed, acid and cleaner. Gloves and eye protection as their labels ask, acid into water, never water into"
    " acid, and into the drain only what the local rules allow."
)
_BATTERY = N_(
    "Beware: a battery that leaks, swells or is hot. Keep bare hands off it, put in only the kind the device names, and"
    " take the old one to where batteries are collected."
)
_PLUMBING = N_("Beware: pipes under mains pressure are for a licensed plumber, by the local code.")

_PURGE = N_("Open the end valve and let water run until the stream is steady and without air, then close it.")
_VALVES = N_("See that every shut-off valve on the way is open: the handle lies along the tube.")
_RESET = (
    N_("Lift the cup, soak it at least 15 minutes, cap it under water and seat it tight in the medium again."),
    N_("Bring the medium to its set point by hand and let the water spread for about two hours."),
    N_("Close the emitter until a drop hangs and does not fall, then two marks further."),
)
_PROBE = N_(
    "A tensiometer that took in air: take it out, refill it with water that holds no bubbles, and seat it tight so that"
    " the medium touches the whole cup."
)

STEPS: Mapping[Kind, tuple[str, ...]] = {
    "drying-drift": (
        N_("Feel the medium and look at the drip tube: is any water coming at all?"),
        _VALVES,
        N_("Water the plants by hand if they hang, and record it."),
        N_("Open the emitter by one mark; if the tube stays dry, take it out, rinse it and re-set it:"),
        *_RESET,
        N_("Record what you did; the pot is then watched while it settles."),
    ),
    "sudden-wetting": (
        N_("Go and look: is water standing in the saucer or on the floor?"),
        N_("Close the emitter's tube, or the shut-off valve of its line if you can't reach it."),
        N_("Somebody watered by hand? Record that, and nothing more is needed."),
        N_("Otherwise re-set the emitter before you open the water again:"),
        *_RESET,
        N_("If the medium is not wet at all, the probe has lost its water."),
        _PROBE,
        N_("Record what you did; the pot is then watched while it settles."),
    ),
    "reservoir-low": (
        N_("Refill the reservoir before the time named, and record it."),
        N_("If it falls faster than usual, walk along the line and look for a wet floor or an emitter that runs."),
    ),
    "reservoir-empty": (
        N_("Refill the reservoir."),
        _PURGE,
        _VALVES,
        N_("Look at the pots that were longest without water; water those by hand whose plants hang."),
        N_("Record the refill and the purge; the pots are then watched while they settle."),
    ),
    "reservoir-leak": (
        N_("Look under and around the reservoir, its outlet and its joints for water."),
        N_("Walk along the line to the end valve; is that valve fully closed?"),
        N_("Close the shut-off valve at the outlet: if the level still falls the reservoir leaks, else the line does."),
        N_("Tighten or replace what leaks, open the valve again and record it."),
    ),
    "supply-interrupted": (
        _VALVES,
        _PURGE,
        N_("If hardly any water comes, look for a kink, or take out the filter and rinse it."),
        N_("Water the plants by hand that hang, and record what you did."),
    ),
    "uneven-room": (
        N_("On the next round, begin with the containers the evidence names: the wettest and the driest."),
        N_("Re-set their emitters, one after the other:"),
        *_RESET,
        N_("Record each one; it is then watched while it settles."),
    ),
    "probe-silent": (
        N_("Look at the probe: is it in its place, its cable whole, its battery charged?"),
        N_("Until it speaks again, feel the medium or read the level by eye on each round."),
        N_("Replace the battery or the probe and record it."),
    ),
    "probe-fault": (
        N_("Only its battery is low? Put a new one in and record it; until then its readings can be believed."),
        N_("Do not trust this probe's readings; feel the medium or read the level by eye."),
        _PROBE,
        N_("A probe that was moved to another pot: record that, and attach it there."),
        N_("If it goes on, replace the probe and record it."),
    ),
    "gateway-silent": (
        N_("Look at the gateway: does it have power, and does its lamp show a network?"),
        N_("Pull its plug for ten seconds and put it back in."),
        N_("Until it speaks again nothing behind it is watched: walk through those rooms on each round."),
    ),
    "monitoring-stopped": (
        N_("Walk through the rooms: what is not watched has to be looked at."),
        N_("On the machine, run `wickwatch check`; it names the part that fails and why."),
        N_("Start that part again, and see that this alarm ends."),
    ),
}

#: What to beware of before the first step.
CAUTIONS: Mapping[Kind, tuple[str, ...]] = {
    "drying-drift": (_LIFTING,),
    "sudden-wetting": (_WET_FLOOR, _ELECTRICITY),
    "reservoir-low": (_CARRYING, _ELECTRICITY, _CHEMICALS),
    "reservoir-empty": (_CARRYING, _ELECTRICITY, _CHEMICALS),
    "reservoir-leak": (_WET_FLOOR, _ELECTRICITY, _PLUMBING),
    "supply-interrupted": (_WET_FLOOR, _ELECTRICITY),
    "uneven-room": (_LIFTING,),
    "probe-silent": (_ELECTRICITY, _BATTERY),
    "probe-fault": (_ELECTRICITY, _BATTERY),
    # Rooms that nothing watches are walked through: nobody knows yet whether water stands there.
    "gateway-silent": (_WET_FLOOR, _ELECTRICITY),
    "monitoring-stopped": (_WET_FLOOR, _ELECTRICITY),
}


@dataclass(frozen=True)
class Advice:
    """What to do about one alarm: `cautions` come first, then the facility's `own` text ("" for none), then `steps`."""

    steps: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    own: str = ""


def advise(kind: Kind, own: Mapping[str, str]) -> Advice:
    """What to do about an alarm of a kind, for whoever is spoken to; `own` are the facility's texts, as written."""
    steps, cautions = STEPS[kind], CAUTIONS[kind]
    return Advice(tuple(_(step) for step in steps), tuple(_(caution) for caution in cautions), own.get(kind, ""))


def advice(kind: Kind, own: Mapping[str, str]) -> list[str]:
    """The same as a program shows it, in English: the facility's own text if there is one, the steps, the cautions."""
    with speaking(PLAIN):
        made = advise(kind, own)
    return [*([made.own] if made.own else []), *made.steps, *made.cautions]
