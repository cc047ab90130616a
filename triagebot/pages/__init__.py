"""The small web app: procedure notes, pictures, health and metrics; other pages join it as parts."""

from triagebot.pages.app import app, chatting
from triagebot.pages.front import front
from triagebot.pages.guard import Limits
from triagebot.pages.headers import policy
from triagebot.pages.site import NavEntry, Part, Reader, Site

__all__ = ["Limits", "NavEntry", "Part", "Reader", "Site", "app", "chatting", "front", "policy"]
