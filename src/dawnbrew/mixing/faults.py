"""What cannot be mixed."""

from dawnbrew.errors import BadQuantity


class BadMix(BadQuantity):
    """A quantity that can be read, and that no tank, injector, tree or water on a farm has."""
