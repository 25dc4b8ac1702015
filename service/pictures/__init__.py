"""Pictures of a garden as SVG documents: a map of its beds on a day, and a timeline of beds and years.

Pure functions of a plan, its report and what is known.  A picture stands by itself: its colours,
patterns and styles are inside, it holds no script and fetches nothing.
"""

from service.pictures.map import map_svg
from service.pictures.sheet import style_source
from service.pictures.timeline import timeline_svg

__all__ = ["map_svg", "style_source", "timeline_svg"]
