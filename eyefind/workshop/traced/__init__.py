"""A second family of rendered clumps: meshes, a path tracer and a real camera.

It shares the truth's format with the first family and nothing else, so that a finder
fitted on the first can be judged on clumps that were drawn by other rules.
"""
