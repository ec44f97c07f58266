"""What the words of the trade mean, for somebody who has never seen one open.

A cause is `item/mechanism`; its explanation is what the item does, then what happened to it. What
is said here about parts and how they fail is common practice, no source. Nothing here is a key of
the note format: a book may use other items, which then stand with their label alone.
"""

from __future__ import annotations

# Common practice, no source, for every entry of this table.
ITEMS = {
    "audio-driver": "This chip steers the power stage",
    "bearing": "A bearing lets a turning part run smoothly",
    "bias": "The bias is the resting current of the power stage",
    "bias-supply-capacitor": "This small store of charge keeps the power stage at rest",
    "bias-trimmer": "This small adjuster sets the resting current of the power stage",
    "bypass-capacitor": "This part lets a stage amplify fully",
    "cabinet": "The cabinet has to be tight so that nothing sounds along",
    "capacitor": "A capacitor stores electric charge",
    "carbon-resistor": "A resistor limits how much current flows",
    "cathode-resistor": "This resistor sets the resting current of a power valve",
    "ceramic-capacitor": "A capacitor stores electric charge",
    "circuit-board": "The circuit board carries the parts and joins them with copper tracks",
    "connector": "A connector joins two parts of the circuit",
    "contact": "A contact lets current pass where two metal parts touch",
    "coupling-capacitor": "This part hands the sound to the next stage and holds voltage back",
    "crossover-capacitor": "This part sends the high notes to the treble loudspeaker",
    "damper-felt": "The felt stops a note when the key is let go",
    "drive-belt": "A belt carries the motor's turning to what has to turn",
    "driver": "The loudspeaker turns current into sound with a coil that moves its cone",
    "dropper-resistor": "This resistor brings the supply down to the voltage that a stage needs",
    "earth-bond": "The earth connection keeps metal parts that you touch safe",
    "electrolytic-capacitor": "This capacitor stores charge and smooths the supply",
    "fan": "The fan carries heat away",
    "film-resistor": "A resistor limits how much current flows",
    "foreign-body": "Something was inside that does not belong there",
    "fuse": "A fuse parts to cut the power when too much current flows",
    "fuse-holder": "The holder grips the fuse and passes current to it",
    "hammer-tip": "The tip of the hammer strikes the note",
    "heatsink": "This metal carries the heat away from the parts that get hot",
    "idler-wheel": "This wheel passes the motor's turning on",
    "inrush-thermistor": "This part softens the rush of current at switching on",
    "jack": "The jack is the socket that a plug goes into",
    "joint": "A joint holds a part and passes current to it",
    "key-bushing": "The cloth bushing guides the key",
    "lamp-cell": "A lamp and a light sensor make the level go up and down",
    "loudspeaker": "The loudspeaker turns current into sound",
    "mains-inlet": "The inlet is the socket where the mains lead goes in",
    "mains-lead": "The mains lead brings the power from the wall",
    "mains-switch": "This switch turns the power on and off",
    "mechanism": "The mechanism is what moves in it",
    "motor": "The motor turns what has to turn",
    "motor-capacitor": "This part gives the motor its push to start",
    "op-amp": "This chip amplifies small signals",
    "optocoupler": "This part passes a signal on by light, so that no voltage gets across",
    "oscillator-coil": "This coil makes the tone that clears the tape and lets it record",
    "output-mosfet": "This transistor switches or delivers the power",
    "output-transformer": "This transformer fits the valves to the loudspeaker",
    "output-transistor": "This transistor drives the loudspeaker",
    "pickup-coil": "The pickup turns the movement of a note into a signal",
    "pinch-roller": "This rubber roller moves the tape along",
    "potentiometer": "A potentiometer is what sits behind a knob",
    "power-transformer": "The mains transformer makes the voltages that the unit needs",
    "power-valve": "A power valve drives the loudspeaker, and wears in use like a bulb",
    "rectifier-diode": "A rectifier turns alternating current into direct current",
    "rectifier-valve": "A rectifier turns alternating current into direct current",
    "relay": "A relay is a switch that is moved by a coil",
    "resistor": "A resistor limits how much current flows",
    "ribbon-cable": "The flat cable joins two circuit boards",
    "screen-resistor": "This resistor protects a power valve",
    "semiconductor": "A part made of silicon controls the current",
    "signal-transistor": "A small transistor amplifies the signal",
    "small-valve": "A small valve amplifies the signal",
    "snubber-capacitor": "This part keeps a stage calm where it might howl",
    "solder-joint": "Solder holds a part to the circuit and passes current to it",
    "speaker-lead": "This lead joins the amplifier to the loudspeaker",
    "start-resistor": "This resistor starts the power supply",
    "supply-controller": "This chip runs the power supply",
    "suppression-capacitor": "This part keeps interference out of the mains",
    "switch": "A switch opens and closes a connection",
    "tape": "The loop of tape holds the sound for the echo",
    "tape-head": "The head writes sound to the tape or reads it",
    "thermal-fuse": "This fuse cuts the power when something gets too hot",
    "tine": "The tine is the metal rod that sounds when a key is struck",
    "tweeter": "The tweeter is the loudspeaker for high notes",
    "valve": "A valve amplifies, and wears in use like a bulb",
    "valve-socket": "The socket holds a valve and passes current to it",
    "varistor": "This part catches surges from the mains",
    "voltage-regulator": "This part holds a supply voltage steady",
    "winding": "A winding is a coil of wire",
    "wiring": "The wiring joins the parts",
    "workmanship": "Somebody worked on the unit before",
    "wrong-part": "A part had been fitted that does not suit this place",
    "zener-diode": "This part holds a voltage at a fixed value",
}  # fmt: skip

# Common practice, no source, for every entry of this table.
MECHANISMS = {
    "aged": "it had grown weak with age",
    "blown": "it had parted",
    "broken": "it was broken",
    "broken-core": "a wire inside it was broken",
    "broken-shaft": "its shaft was broken",
    "burnt": "it had burnt",
    "burnt-contacts": "its contacts were burnt, so they passed current badly",
    "burnt-winding": "its coil had burnt through",
    "carbonised": "a charred path let current flow where none should",
    "chafed": "its insulation was worn through",
    "clogged": "it was covered with dirt",
    "conductive-residue": "a residue let current flow where none should",
    "cracked": "it had cracked",
    "dried-out": "it had dried out and lost its strength",
    "drifted": "its value had moved away from what it should be",
    "drifted-high": "its value had grown too high",
    "dry": "it had run dry",
    "failed": "it had failed",
    "faulty": "that work was not right",
    "fitted": "it was not what belongs there",
    "gassy": "gas had got into it, and it no longer kept its current in bounds",
    "hardened": "its rubber had gone hard",
    "heater-cathode-leak": "the insulation of its heater had become leaky, which is heard",
    "heater-open": "its heater, the part that glows, was broken",
    "high-esr": "it had dried out with time, and smoothed no longer",
    "inside": "it was in the way",
    "leaky": "it let current through that it should hold back",
    "lifted-track": "one of its tracks had come away",
    "loose": "it was loose",
    "loose-clamp": "it no longer pressed well, so the heat stayed where it was made",
    "loose-contacts": "its contacts had grown slack",
    "loose-laminations": "its iron sheets were loose, so it hummed by itself",
    "loose-part": "something had come loose and rattled",
    "low": "it had lost much of its strength",
    "microphonic": "something inside it was loose, so it rang along",
    "misadjusted": "it had been set wrongly",
    "misaligned": "it stood out of place",
    "never-made": "it had never held properly",
    "noisy": "it made a noise of its own",
    "open": "it no longer connected inside",
    "open-coil": "its coil was broken",
    "open-primary": "one of its windings was broken",
    "open-track": "the track under its slider was broken",
    "open-wiper": "its slider had lost touch",
    "overheated": "it had got too hot and no longer gripped",
    "oxidised": "a film had grown on its contacts, so they passed current badly",
    "oxidised-contact": "a film had grown on the contact inside it",
    "perished": "its rubber had perished",
    "poor": "it no longer did that well",
    "rubbing-coil": "its coil scraped as it moved",
    "seized": "it had seized up or run rough",
    "shorted": "it let current through without limit",
    "shorted-turns": "turns of its coil had touched, so it ran hot",
    "swollen": "it had swollen, so it moved with difficulty",
    "torn-surround": "its edge or cone was torn",
    "vented": "it had burst or leaked",
    "worn": "it was worn",
    "wrong": "it was connected wrongly",
    "wrong-rating": "one was fitted that would have parted too late or too soon",
}

# (words, term, meaning); the words in small letters, `#` for digits. Common practice, no source.
GLOSSARY = (
    ("anode anodes", "anode", "the terminal of a valve that stands at high voltage"),
    ("bias", "bias", "the resting current of an amplifying stage, set on the bench"),
    ("capacitor capacitors electrolytic electrolytics filter filters", "capacitor",
     "a part that stores electric charge; the large ones smooth the supply"),
    ("cathode cathodes", "cathode", "the terminal of a valve that current comes from"),
    ("diode diodes", "diode", "a part that lets current through in one direction"),
    ("earth", "earth", "the safety connection through the mains plug"),
    ("heater heaters", "heater", "the wire in a valve that glows"),
    ("insulation", "insulation", "what keeps mains voltage away from what you touch"),
    ("jack jacks", "jack", "the socket that a plug goes into"),
    ("mosfet mosfets", "mosfet", "a kind of transistor for power"),
    ("ohm ohms ω kω mω", "Ω (ohm)", "the unit of resistance; kΩ are thousands, MΩ millions"),
    ("potentiometer potentiometers", "potentiometer", "the part behind a knob"),
    ("preamp preamps preamplifier preamplifiers", "preamplifier",
     "the first stages, which raise the small signal"),
    ("rectifier rectifiers", "rectifier", "what turns alternating current into direct current"),
    ("relay relays", "relay", "a switch that is moved by a coil"),
    ("reservoir reservoirs", "reservoir", "the large capacitor that evens out the supply"),
    ("resistor resistors", "resistor", "a part that limits current"),
    ("return", "return", "the socket where sound comes back into the unit"),
    ("ripple", "ripple", "what is left of the mains hum in the supply"),
    ("µf μf uf nf pf", "µF", "the unit of how much charge a capacitor stores"),
    ("transformer transformers", "transformer",
     "coils on an iron core that change one voltage to another"),
    ("transistor transistors", "transistor", "a small part that amplifies or switches"),
    ("v# v#a v#b", "V1, V2, …", "the places of the valves, counted through"),
    ("valve valves", "valve", "a glass tube that amplifies"),
    ("winding windings", "winding", "a coil of wire"),
)  # fmt: skip

BROUGHT_ON_BY = {
    "ageing": "It came with age.",
    "wear": "It came with use.",
    "misuse": "It was asked for more than it is made for.",
    "mishandling": "It came from a knock, a fall or rough handling.",
    "manufacture": "It was made that way.",
    "design": "The design is hard on this part.",
    "earlier-repair": "It goes back to earlier work on the unit.",
    "liquid": "It came from something that was spilt or got wet.",
    "transport": "It happened on the way from one place to another.",
}
"""`brought_on_by`, whose keys are from IEC 60050-192, in a sentence"""

CONFIRMED_BY = {
    "substitution": "with a good one in its place the fault was gone",
    "measurement": "we measured it",
    "inspection": "it could be seen",
    "operation": "working it made the fault come and go",
    "assumed": "not proved: it is what fits best with what we saw",
}
FIX = {
    "replace": "replaced it",
    "repair": "repaired it",
    "modify": "changed it so that it suits",
    "adjust": "set it right",
    "refit": "took it out and fitted it again, firmly",
    "service": "cleaned and serviced it",
    "overhaul": "overhauled it",
}
"""`fix`, whose keys are after ISO 14224; `none` is nothing done"""

CLOSED_AS = {
    "repaired": "Repaired.",
    "no-fault-found": "We looked for the fault and it did not show itself here.",
    "declined": "You decided against the repair. The fault is still in it.",
    "beyond-repair": "It cannot be repaired sensibly. The fault is still in it.",
    "referred": "We handed it on to somebody who is better placed to repair it.",
}  # fmt: skip
WAITING = {
    "parts": "It waits for parts to arrive.",
    "owner": "It waits for your answer.",
    "time": "It waits for its turn on the bench.",
}
URGENCY = {
    "now": "Needed now, before it is used.",
    "soon": "Should be done soon.",
    "can-wait": "Can wait.",
}
ANSWER = {
    "accepted": "You agreed to it.",
    "declined": "You declined it.",
    "asked": "We have asked you and have no answer yet.",
}
UNDER = {
    "heat": "warmed up",
    "tap": "tapped and moved",
    "vibration": "shaken",
    "cold": "cooled",
    "load": "working into a load",
    "full-power": "at full power",
}
"""what it was run with, where the note says it in a word"""

MEASURED = {
    "earth-bond": "Earth connection, from the plug to the metal you can touch",
    "insulation": "Insulation, between the mains and the metal you can touch",
    "leakage": "Current that leaks to the metal you can touch",
    "touch-current": "Current that would flow through somebody who touches it",
    "protective-conductor-current": "Current in the earth wire",
}
RESULT = {
    "pass": "It passed.",
    "fail": "It did not pass.",
}

# Words that mark offered work as work for safety, beside the urgency `now`. Common practice, no
# source; one word too many puts a sentence in a box, one too few leaves somebody unwarned.
SAFETY_WORK = (
    r"earth\w*|ground(?:ing|ed)?|insulat\w*|"
    r"mains (?:lead|plug|inlet|switch|cable|cord|socket|fuse)|fuses?|"
    r"fuse.?holders?|safe\w*|unsafe|danger\w*|shock\w*|fire|overheat\w*|live chassis|"
    r"suppress\w*|three.core"
)

# What an owner is never sent to, by the hazards of a check. Common practice, no source.
NOT_FOR_OWNERS = frozenset(
    {
        "mains", "high-voltage", "stored-charge", "live-chassis", "moving-parts", "toxic",
        "flammable", "laser", "battery",
    }
)  # fmt: skip

# A check whose words speak of opening is left out as well, whatever its entry says of it.
OPENS = (
    r"open(?:s|ed|ing)?|unscrew\w*|undo(?:es|ing)?|thumbscrews?|screwdrivers?|"
    r"(?:take|takes|taken|taking|come|comes|lift|pull|remove|removed) (?:\w+ ){0,4}(?:off|out)|"
    r"remove (?:\w+ ){0,2}(?:cover|back|lid|panel|plate|grille|cage)|(?:cover|back|lid|panel)s? off"
)

INSIDE = {
    "mains": "mains voltage, even when it is switched off",
    "high-voltage": "several hundred volts, enough to kill",
    "stored-charge": "capacitors, which keep a deadly charge for a long time with the plug pulled",
    "live-chassis": "metal that may be joined to the mains",
    "hot-parts": "glass and metal that burn the skin",
    "moving-parts": "belts and rotors that catch fingers and hair",
    "laser": "light that harms the eye without being seen",
    "battery": "cells that can burn or burst",
}
"""hazard -> what is behind the cover, for the sentence that says why it stays closed"""

BESIDE_A_CHECK = {
    "hot-parts": "Glass and metal get hot enough to burn: look, don't touch.",
    "heavy": "Heavy: lift with two people.",
    "loud": "Turn the volume down first.",
}

KEEP_CLOSED = (
    "Don't open it, and take off no cover, back or panel: only trained people may. Inside there is "
    "{inside}."
)
DANGER_AGAIN = (
    "If there is smoke, a smell of burning or a flash, pull the plug. If it is wet or gave a "
    "shock, cut the power at the wall or the fuse board first. Touch no metal of it, leave it off, "
    "and bring it in."
)
SAME_FUSE = (
    "Replace no fuse yourself, and never with one of another rating. Never disconnect the earth."
)
