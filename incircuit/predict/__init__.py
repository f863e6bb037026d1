"""What the meter should show between two pads: bands, reasons, and what each fault would make of it."""
