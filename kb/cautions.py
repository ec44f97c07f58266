"""What to read before a step that can hurt. Common practice of the trade, no source.

The program shows the texts for the access and the hazards of a step, and `LOCAL_CODES` after them.
"""

from __future__ import annotations

LOCAL_CODES = (
    "Local codes and licensed practice come first; if in doubt, leave it closed and hand it on."
)

WORST = ("mains", "high-voltage", "stored-charge", "live-chassis", "hot-parts")
"""What a unit of which no hazard was noted must be taken to have."""

ASK_DANGER = (
    "Did it smoke, smell of burning, give a shock, get wet, flash, trip the mains, or does a valve "
    "glow red? Then keep it off and unplugged, and ask again with those words."
)

KEEP_CLOSED = (
    "Nothing here needs the cover off. Leave it closed: behind it are voltages that kill, even "
    "with the plug out."
)

ACCESS: dict[str, tuple[str, ...]] = {
    "open": (
        ("Pull the mains plug and keep it in sight. A switch or a standby switch is not enough."),
        (
            "Discharge every filter section, on both sides of a standby switch, through an "
            "insulated resistor rated for the voltage and the energy, on an insulated lead "
            "clipped to chassis first. Never with a screwdriver: it burns, it welds, and it "
            "ruins the capacitor."
        ),
        (
            "Prove the meter on a known voltage, prove each section dead, prove the meter "
            "again. A dead meter shows 0 V too."
        ),
        (
            "Look again later, before each time you reach in: capacitors recover part of "
            "their charge by themselves, and bleeder resistors fail open. A switching "
            "supply's reservoir can hold over 300 V long after the plug is out."
        ),
        (
            "Let hot glass, power resistors and heat sinks cool. Nothing is energised at this "
            "level: to power up, close it, or go by the rules for live work."
        ),
    ),
    "live": (
        (
            "Only for people trained for it, never alone, never tired or in a hurry. The "
            "other one knows the off switch and what to do after a shock."
        ),
        (
            "Ask first whether it can be found unplugged. Clip probes on while it is off, "
            "discharged and proved dead; switch on; read; switch off."
        ),
        (
            "One hand, the other behind your back; insulated clip-on probes and leads rated "
            "for the voltage; no rings, watch or necklace; dry floor, insulating mat, nothing "
            "earthed within reach."
        ),
        (
            "Neither a residual-current device nor an isolating transformer protects you from "
            "the high voltage inside: that circuit comes back to its own winding, not to "
            "earth. One unit only to one isolating transformer. A variable autotransformer "
            "does not isolate."
        ),
        (
            "Never lift an earth, neither the unit's nor the oscilloscope's. Use a "
            "differential probe or a battery meter instead."
        ),
        (
            "The primary side of a switching supply is at mains potential: its return is not "
            "the chassis."
        ),
    ),
}
"""access level -> paragraphs; nothing is needed for `outside`"""

TOPICS: dict[str, tuple[str, ...]] = {
    "valves": (
        (
            "Never pull or fit a power valve while it is energised: switch off, unplug, let "
            "it cool (ten minutes at least; the glass burns long after the glow is gone). "
            "After power valves were changed, check the bias before the unit goes back into "
            "use: anode current times the voltage from anode to cathode stays below the data "
            "sheet's limit. An anode that glows: off at once, and off it stays until the "
            "reason is known. Some valve anodes end in a top cap: full high voltage, within "
            "reach. Broken glass cuts, and some old types carry toxic coatings: don't breathe "
            "the dust."
        ),
    ),
    "load": (
        (
            "A valve output stage is never driven without its load: the primary then swings "
            "to a multiple of the supply, and transformer, sockets and valves flash over. "
            "Switch off before changing a loudspeaker lead. Use a dummy load of the rated "
            "impedance and at least twice the rated power; it gets hot enough to burn, so "
            "stand it clear of everything, screened from hands. No earthed oscilloscope clip "
            "on a bridged or class D output: neither terminal is earth, and the clip shorts "
            "it. A solid-state stage of unknown state gets no loudspeaker until its direct "
            "voltage is measured. Ear protection at full power."
        ),
    ),
    "ramping-up": (
        (
            "Reduced mains (series lamp or variable transformer) is for units with a mains-"
            "frequency transformer only. Not for switching supplies: at low mains they draw "
            "more current, or start and stop until something fails; these get full mains "
            "through their own fuse. Reduced mains is still deadly, and so is everything "
            "behind the lamp; a variable autotransformer does not isolate. Connect the load "
            "first. Lamp in an enclosed, fused box; a lamp that stays bright: off, and look "
            "for the short. A heater that stays cold at half mains proves nothing."
        ),
    ),
    "lifting": (
        (
            "Above about 20 kg, or wherever the weight sits to one side (transformers do), "
            "two people or a trolley, straight back, clear way, door open. Cradle a chassis "
            "so that it stands on its transformers' side or on blocks, never on valves or "
            "controls, and can't tip towards you while you probe it. Lash rotary cabinets and "
            "pianos; take castors off a slope. A handle or strap may be what failed: look at "
            "it before you trust it. Fingers out of the gap before the last centimetre."
        ),
    ),
}
"""`valves`, `load`, `ramping-up`, `lifting` -> paragraphs"""

HAZARDS: dict[str, str] = {
    "mains": (
        "Mains voltage is inside, and at the inlet, fuse and switch even when it is switched "
        "off. Pull the plug and prove it dead before you touch."
    ),
    "high-voltage": (
        "Several hundred volts direct, enough to kill, present whenever it is energised and "
        "for some time after. Insulated probes, one hand, or better none."
    ),
    "stored-charge": (
        "Capacitors keep a deadly charge with the plug out and recover some after being "
        "emptied. Discharge through a rated, insulated resistor, prove it, look again before "
        "each reach."
    ),
    "live-chassis": (
        "Metal parts you can touch may be at mains potential. Don't touch; cut the power at "
        "the wall or the board, then measure earth bond and insulation before it sees mains "
        "again."
    ),
    "hot-parts": (
        "Valve glass, power resistors, heat sinks and dummy loads burn the skin for minutes "
        "after switching off. Let them cool, or measure the temperature from a distance."
    ),
    "heavy": (
        "Heavy, and the weight sits to one side. Two people or a trolley, and cradle the chassis."
    ),
    "moving-parts": (
        "Belts, rotors, fans and springs catch hair, sleeves and fingers. Unplug before "
        "reaching in, and keep clear while it runs."
    ),
    "loud": (
        "Sudden full level damages hearing. Volume down first, ear protection on, nobody in "
        "front of the loudspeaker."
    ),
    "toxic": (
        "Dust, fumes or leaked fluid that harm: old insulation, solder fume, burnt board, "
        "some heat-sink washers and coatings. Gloves, air, no grinding or scraping dry, wash "
        "hands."
    ),
    "flammable": (
        "Solvent, spray or vapour that burns. No flame, no spark, no power until it is dry; "
        "air the room, extinguisher within reach."
    ),
    "laser": (
        "Light that harms the eye without being seen. Don't look into the optics or defeat "
        "the cover switch."
    ),
    "battery": (
        "Cells burn or burst when shorted, pierced or charged wrongly. Take them out first, "
        "insulate the terminals, right charger only, never a swollen cell."
    ),
}
"""hazard key -> one or two sentences"""


def topics_for(access: str, items: frozenset[str], hazards: tuple[str, ...]) -> tuple[str, ...]:
    """The topics to read before work of this access on a unit with these items and hazards.

    A unit of which no item is known may hold anything.
    """
    if access == "outside":
        return ()
    live, unknown = access == "live", not items
    applies = {
        "valves": unknown or "power-valve" in items,
        "load": live and (unknown or bool(items & {"output-transformer", "driver"})),
        "ramping-up": live and (unknown or "power-transformer" in items),
        "lifting": unknown or "heavy" in hazards,
    }
    return tuple(text for topic in TOPICS if applies[topic] for text in TOPICS[topic])


def for_step(access: str, hazards: tuple[str, ...]) -> tuple[str, ...]:
    """Everything to read before a step of this access and with these hazards, in reading order.

    Empty for a step from outside that has no hazard.
    """
    live = ACCESS["open"] + ACCESS["live"] if access == "live" else ACCESS.get(access, ())
    texts = (*live, *(HAZARDS[h] for h in hazards if h in HAZARDS))
    return (*texts, LOCAL_CODES) if texts else ()
