"""Python runs this at its start where the folder is on its path: the day is then that of README's answers.

What is said of a day (in this year, in that one, since when) changes as the years go by; README does not.
"""

from datetime import UTC, datetime

DAY = datetime(2026, 11, 20, 9, tzinfo=UTC)

if __name__ == "sitecustomize":
    from time_machine import travel

    travel(DAY, tick=True).start()
