"""What all parts of ``cycle.toml`` have in common."""

from pydantic import BaseModel, ConfigDict


class Part(BaseModel):
    """A table of ``cycle.toml``: frozen, and an unknown key is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)
