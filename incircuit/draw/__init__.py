"""Pictures: the drawing of a neighbourhood, its block map, bands on an axis, the course of a reading.

`strokes` holds what a symbol is made of, `library` and `symbols` the symbols, `scene` what is to be drawn,
`plan` where it goes, `wires` and `labels` the exact lines and texts, `svg` the text of the picture.
"""
