"""What the planning takes for granted about hands-on minutes: judgement, no source."""

from __future__ import annotations

COVER_MINUTES = 10.0
"""to open a unit, discharge it and prove it dead, once"""
WAIT_RATE = 0.05
"""an unattended minute, in hands-on minutes: the bench does something else meanwhile"""
LEAST_MINUTES = 0.5
"""no check is free, whatever the vocabulary says"""
DISTURBS_FACTOR = 4.0
"""a check that may chase an intermittent fault away counts as so many times its time"""
TRYING_MINUTES = 25.0
"""to put a cause right and see, where the book has no minutes noted"""
LEAST_TRYING = 3.0
"""nobody puts anything right and tries it in less"""
SEARCH_MINUTES = 120.0
"""for a cause that neither checks nor parts came to, where the book has no minutes noted"""
SLOW = 0.9
"""the share of faults that a slow one took longer than"""
ENOUGH_FAULTS = 3.0
"""the minutes of so many faults say as much as what they lean on"""
RUNS_PAST = 3.0
"""mean gaps that an intermittent fault must stay away: 1 in 20 by luck (e to the minus 3)"""
RUN_UNKNOWN = 60.0
"""minutes that it must stay away where nobody noted when and how often it shows"""
