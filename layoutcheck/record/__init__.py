"""The record of sign-off: what was agreed, by whom and when, in a chain that shows changes."""

from layoutcheck.record.entry import Draft, Entry, Kept, Signer, for_paper
from layoutcheck.record.ledger import Ledger, Verified

__all__ = ["Draft", "Entry", "Kept", "Ledger", "Signer", "Verified", "for_paper"]
