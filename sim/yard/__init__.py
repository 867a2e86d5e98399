"""The yard: where stones are laid out and stacked by hand, in a page of the browser.

Glossary
--------
session   everything the yard knows and can do; it has no screen
desk      what belongs to the work and not to the scene: hidden and locked pieces, the shelf
version   counts the changes of a session; every window names the version that it shows
shelf     pieces at hand that are not in the tank
journal   a file beside the scene that brings back what was not saved
"""
