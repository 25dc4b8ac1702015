"""The site document of a batch: what all its gardens share."""

from __future__ import annotations

from service.schemas.fields import IsoDate
from service.schemas.garden import GardenSchema
from service.schemas.plan import BedSchema, JudgeSchema, OwnCropSchema
from service.schemas.rows import Group, PlainSchema, Rows


class SiteGardenSchema(GardenSchema):
    """What all gardens share; the name is each garden's own."""

    class Meta:
        """Without the name."""

        exclude = ("name",)


class SiteBedSchema(BedSchema):
    """What a bed is where its garden says nothing else."""

    class Meta:
        """Without what belongs to one bed."""

        exclude = ("id", "name", "position", "replaces", "from_", "until")


class SiteSchema(PlainSchema):
    """The site document of a batch."""

    as_of = IsoDate()
    judge = Group(JudgeSchema)
    garden = Group(SiteGardenSchema)
    bed = Group(SiteBedSchema)
    crops = Rows(OwnCropSchema, most=1_000)
