"""The desk: QC room and calibration room, whose acts are pages in a numbered book of their own."""

from consolidator.desk.book import DESK_SERIES, open_desk, take_in_desk

__all__ = ["DESK_SERIES", "open_desk", "take_in_desk"]
