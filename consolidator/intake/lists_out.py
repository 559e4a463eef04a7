"""Which lists are the newest: asked at every contact, so without reading them."""

from consolidator.plant import Plant


def newest_lists_version(plant: Plant) -> int:
    """Return the newest version of the lists that was taken over; 0 when there is none yet."""
    versions = (path.parent.name for path in plant.lists.glob("*/lists.json"))
    return max((int(version) for version in versions if version.isdecimal()), default=0)
