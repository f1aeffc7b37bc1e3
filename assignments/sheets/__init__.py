"""Sheets of paper: one layout in millimetres, drawn as a PDF and as a page for the browser's printer.

The modules: ``records`` (what lies on a sheet), ``faces`` (the typefaces, and how wide a text runs), ``outlines`` (the
stave's signs and the shapes, taken from the symbols of the pages), ``staff`` (a day's notes on five lines), ``card``
and ``month`` (the two sheets), ``pdf`` (drawing one). Everything is black on white.
"""
