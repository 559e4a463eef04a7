"""Every limit of the kiosk, with its unit and its reason."""

from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Limits of one kiosk; each may be set by an environment variable `KIOSK_…`."""

    model_config = SettingsConfigDict(env_prefix="KIOSK_", frozen=True)
