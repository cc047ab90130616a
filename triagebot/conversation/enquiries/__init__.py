"""What people ask in between, at any moment: the shop's facts, what a word means, short cuts that hurt."""

from triagebot.conversation.enquiries.finding import find_enquiry, nearest_enquiries
from triagebot.conversation.enquiries.known import Enquiries, Enquiry
from triagebot.conversation.enquiries.loading import check_enquiries, load_enquiries

__all__ = ["Enquiries", "Enquiry", "check_enquiries", "find_enquiry", "load_enquiries", "nearest_enquiries"]
