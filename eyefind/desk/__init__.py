"""The review on screen without its window: queue, order, session, plan, words.

Like `eyefind.job` it stands behind all steps and puts them together, here for one
person who goes through many clumps. It knows no window, so all of it is tested without
one; the napari plugin (`plugins/eyefind_napari`) shows it.
"""
