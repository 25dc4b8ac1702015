"""How much may be asked of one proposal; loads nothing, so that every door can say it."""

MOST_YEARS, MOST_ALTERNATIVES = 12, 3
#: Beds times years over HTTP; more is work for a job or the command line.
MOST_BED_YEARS = 400
