"""The napari plugin: a thin skin over eyefind, no image analysis in it."""
