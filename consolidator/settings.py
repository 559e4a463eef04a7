"""Every limit of the consolidator, with its unit and its reason."""

from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Limits of one consolidator; each may be set by an environment variable `CONSOLIDATOR_…`."""

    model_config = SettingsConfigDict(env_prefix="CONSOLIDATOR_", frozen=True)
