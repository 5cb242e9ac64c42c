"""What every section of campaign.toml has in common."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class TomlSection(BaseModel):
    """A section of campaign.toml: unchangeable, and without keys it doesn't know."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=False)
