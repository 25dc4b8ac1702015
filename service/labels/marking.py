"""How to write on a label that has to last, and how to print one that fits."""

from __future__ import annotations

#: One line a page, from a gardening magazine's test of three months in full sun and under a sprinkler
#: (https://www.thefreelibrary.com/a04151670: soft aluminium pressed with a sharp point lasted best, grease
#: pencil did well on aluminium and rough plastic); that printer's ink fades is common practice.
MARKING = (
    "Printed paper fades and wets through: keep it for a season, under cover. What lasts is writing pressed "
    "into soft aluminium with a sharp point, then grease pencil on aluminium or rough plastic."
)
PRINTING = (
    "Print at actual size (100 %), without margins, headers or footers. "
    "Try it on plain paper first and hold it against the sheet."
)
