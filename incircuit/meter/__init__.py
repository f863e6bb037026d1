"""Meters: what they put on their terminals, what they show, what a technician types off them."""
