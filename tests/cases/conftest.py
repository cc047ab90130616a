"""The fixtures of delivery."""

from tests.delivery.fixtures import _own_key, channel, codes, guide, office

__all__ = ["_own_key", "channel", "codes", "guide", "office"]
