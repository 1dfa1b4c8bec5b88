"""Sharing on the shop network: who is let in, as what, by which address."""
