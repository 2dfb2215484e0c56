"""Sprites of the game in `moss_tower`: the hero, its foes, its treasure and the meters.

One character is one dot; each sprite gets an outline one dot thick when it is loaded.
"""

from __future__ import annotations

from scalesim.draw.pixelart import Sprite, mirrored, outlined, sprite

INK = "1a1230"

_HERO = """
.............fff.......ffff.....................
............fPPpff....fPPpff....................
............gfPPppf...gfPPppf...................
.............gfPPppf...gfPPppf..................
..............gfPPpff..gfPPPpff.................
...............gffPpfffgffPFFFFf................
................gfffFFFFFFFFFFFFFf..............
................gfFFFFFFFFFFFFFFFFf.............
................gfFFFFFFFFFFFFFFFFFf............
...............gffFFFFFFFFFFFFFFFFFf............
...............gffFFFFFFFFeeFFFFFeeF............
...............gffFFFFFFFFweFFFFFwef............
................gffFFFFFFFeeFFFFFeef............
................gffFFFFpPFeeFFnFFeePf...........
.................ggfFFFPpFFFFnnnFFFff...........
..rrr..........r.ggfffFFFFFFFFFFFFff............
.rrsssrrr.....rrrRgggffffffffffffgr.............
.RrrrrrssrrrrrrssrRRRgggggggggggrrR.............
..RRRrrrrrssssrrrrrrrrRRRRRRRRrrrrR.......ff....
.....RRRRrrrrrrrrrrrrsssssssssrrrR......ffFFf...
..rrr...RRRRRRRRR.RRRRrrrrrrrrRRBbbbbbbbfFFFFf..
rrsssrrr..rrrssrR..bbRRRRRRRRRcccccccccbfFFFFg..
RrrrrrssrrrrrrRR..bbccbbbbbbbbBbbbbbbbbbgfFFg...
.RRRRrrrrrrRRR....bbccbbbbbbbbbBBBBBBBB..ggg....
....RRRRRR........bbbccbbbbbbbB.................
.............gg..bbbbbbbbbbbbbB.................
............gfFfbBBBbbbbbbbbbbB.................
............gfFFfBBByyyyYYYyyyB.................
.............ggf..BBbbbbbwwbbbBb................
..................BBbbbbbbbbbbbbbnn.............
.............oo..BBBBBBBBBbbbbbbbnnoo...........
............oonnBBBBBB....BBBBbbbnoooo..........
............oonnBBBB.........BBBBnoooo..........
............Nnnn................NNnoo...........
.............NN....................N............
"""
_HERO_COLOURS = {
    "f": "f2cf9a", "F": "fff4d8", "g": "b9815f", "p": "e98b8b", "P": "f7b3a4", "e": "2a1838", "w": "ffffff",
    "n": "8f4b36", "N": "56283a", "o": "bd7646", "r": "e23d4e", "R": "992447", "s": "ff8670", "b": "3b78c9",
    "B": "27458f", "c": "74b6ec", "y": "f2b53f", "Y": "ffe78a",
}  # fmt: skip

_SNAIL = """
........aaaaa..........
......aaAAAAAaa........
.....aAAllAAAAAa..w..w.
....aAllAaaaAAAAa.k..k.
...aAlAAabbbaaAAa.g..g.
...aAAAabBBBbbaAa.gg.g.
..aAAAabBbbbBbaAa.gGGg.
..aAAAabBbaBBbaAaggGGGg
..aAAAabbBBBbaAAagGGGGg
..aAAAAabbbbaaAagGGkGGk
...aAAAAaaaaAAaagGGGGGg
..gGaAAAAAAAAaagGGGGppg
.gGGGaaaaaaaaagGGGkkGg.
gGGGGGGGGGGGGGGGGGGGg..
.ggggggggggggggggggg...
"""
_SNAIL_COLOURS = {
    "a": "8b3f6b", "A": "c9627c", "l": "f0a08c", "b": "5b2b5e", "B": "e8a05c", "g": "4f8f6b", "G": "8fd08a",
    "k": "1a1230", "w": "ffffff", "p": "f7b3a4",
}  # fmt: skip

_MOTH = """
.mm..................mm.
MmmmM..............MmmmM
MmwmmM..a......a..MmmwmM
MmmwmmmM.a....a.MmmmwmmM
.MmmmwmmM.a..a.MmmwmmmM.
.MmmyymmmMbffbMmmmyymmM.
..MmyYymmmbFFbmmmyYymM..
..MmmyymmbFFFFbmmyymmM..
...MMmmmmbwkkwbmmmmMM...
....MMmmMbkFFkbMmmMM....
...MmmmmM.bFFb.MmmmmM...
..MmymmM..bbbb..MmmymM..
..MmymM...bffb...MmymM..
...MMM.....bb.....MMM...
"""
_MOTH_COLOURS = {
    "m": "7d5fc0", "M": "4b3a8f", "w": "c9b8f0", "y": "f2b53f", "Y": "8f2f52", "a": "c9b8f0", "b": "6b4a52",
    "f": "d8a878", "F": "ffe4b8", "k": "1a1230",
}  # fmt: skip

_ACORN = """
....k....
..hhhhc..
.hhcHcHc.
hcHcHcHcC
CcCcCcCcC
.ywyoooO.
.ywyoooO.
.yyyoooO.
..yoooO..
...ooO...
....O....
"""
_ACORN_COLOURS = {
    "k": "5a3324", "h": "d89a5c", "c": "a8653a", "H": "c98048", "C": "74402c", "y": "ffe78a", "w": "ffffff",
    "o": "f2b53f", "O": "c9762c",
}  # fmt: skip

_GEM = """
...ccccccc...
..cwwccbbbb..
.cwwccbbbbBb.
cwwcccccbbBBb
ccccccbbbbbbB
.bcccccbbbBB.
..bcccbbbBB..
...bccbbBB...
....bcbBB....
.....bbB.....
......B......
"""
_GEM_COLOURS = {"c": "8ef0e4", "w": "ffffff", "b": "3fb8c9", "B": "22729f"}

_LEAF = """
.....gg
..gggGg
.gGGGWg
gGGWWGg
gGWGGGg
gWGGGg.
WgggG..
"""
_LEAF_COLOURS = {"g": "2f8a4e", "G": "7fd05a", "W": "e8ffa0"}

_BURR = """
.....t.......
..t..g...t...
...g.gg.g....
.t.ggGGgg..t.
..ggGllGGgg..
..gGlGGGGGg..
.tgGGkGGkGgt.
..gGwkGwkGg..
..gGGGGGGGg..
.t.gGkkkGg.t.
....ggggg....
...nn...nn...
"""
_BURR_COLOURS = {
    "t": "f0a08c", "g": "6b3a7a", "G": "a3558f", "l": "e98bb0", "k": "1a1230", "w": "ffffff", "n": "4a2a5a",
}  # fmt: skip

_SIGN = """
..nnnnnnnnnnnn..
.nooooooooooooN.
.noookooooooooN.
.nooookkkkkkooN.
.noookooooooooN.
.nooooooooooooN.
..NNNNnNNNNNNN..
......noN.......
......noN.......
......noN.......
......noN.......
......noN.......
"""
_SIGN_COLOURS = {"n": "d89a5c", "o": "a8653a", "N": "74402c", "k": "56283a"}

_LANTERN = """
....kk....
...k..k...
..kddddk..
..dDDDDd..
..kkkkkk..
..kyYYyk..
..kYwwYk..
..kYwwYk..
..kyYYyk..
..kkkkkk..
..dDDDDd..
....dd....
....dD....
....dD....
....dD....
....dD....
....dD....
....dD....
...dddD...
..ddddDD..
"""
_LANTERN_COLOURS = {"k": "2f2a4a", "d": "6b5874", "D": "c09a84", "y": "f2b53f", "Y": "ffe78a", "w": "ffffff"}

_HEAD_SAMPLES = slice(12, 36)
_HEAD_LINES = slice(0, 18)


def hero() -> Sprite:
    """Return the leaping hero, 48 samples by 37 lines with the outline and the flying scarf."""
    return outlined(sprite(_HERO, _HERO_COLOURS), INK)


def hero_face() -> Sprite:
    """Return the hero's head alone, for the meter."""
    whole = sprite(_HERO, _HERO_COLOURS)
    part = (_HEAD_LINES, _HEAD_SAMPLES)
    return outlined(Sprite(whole.dots[part], whole.solid[part]), INK)


def snail() -> Sprite:
    """Return the walking foe."""
    return outlined(sprite(_SNAIL, _SNAIL_COLOURS), INK)


def moth() -> Sprite:
    """Return the flying foe."""
    return outlined(sprite(_MOTH, _MOTH_COLOURS), INK)


def burr() -> Sprite:
    """Return the prickly foe that sits still."""
    return outlined(sprite(_BURR, _BURR_COLOURS), INK)


def sign() -> Sprite:
    """Return the wooden sign."""
    return outlined(mirrored(sprite(_SIGN, _SIGN_COLOURS)), INK)


def acorn() -> Sprite:
    """Return the golden acorn."""
    return outlined(sprite(_ACORN, _ACORN_COLOURS), INK)


def gem() -> Sprite:
    """Return the rare gem."""
    return outlined(sprite(_GEM, _GEM_COLOURS), INK)


def leaf(*, full: bool) -> Sprite:
    """Return one unit of the health meter, green or spent."""
    colours = _LEAF_COLOURS if full else {"g": "3f3a5c", "G": "2f2a4a", "W": "4a3f5f"}
    return outlined(sprite(_LEAF, colours), INK)


def lantern() -> Sprite:
    """Return the lantern that marks a safe place."""
    return outlined(sprite(_LANTERN, _LANTERN_COLOURS), INK)
