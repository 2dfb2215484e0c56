"""Sprites of the game in `pocket_orchard`: people, animals, crops and the portrait in the dialogue box."""

from __future__ import annotations

import numpy as np

from scalesim.draw.pixelart import Frame, Sprite, mirrored, outlined, oval, paint, polygon, rgb, sprite

INK = "2b1b2e"

_KEEPER = """
.....hhhhhh.....
....hHHHHHHh....
....HHHHHHHh....
....rrrrrrrR....
.hhHhhhhhhhhhgg.
hHHHHHHHHHHHHhhg
.gghsssssssshgg.
..oosSSSSSSsoo..
..oSSeSSSSeSSo..
..oSSeSSSSeSSo..
..osPSSSSSSPso..
...osSSssSSso...
....rrrrrrrR....
...wbwrRwwbwW...
..wwbbbbbbbBwW..
..swbbcccbbBWs..
..SsbbcccbbB.sS.
....bbbbbbbB....
....bbbBbbbB....
....bbB.bbBB....
....nnn.nnnN....
...nnnN.nnNN....
"""
_GRAN = """
....gggggggg....
...gllggggggG...
..gggggggggggG..
..wwkkwwwwkkww..
.wwkkkwwwwkkkww.
.wwkykkwwkkykww.
.wwkekywwykekww.
..wwkkkwwkkkww..
..wwwkwwwwkwww..
....wwwnnwww....
....vwwwwwwV....
...vvvwwwwvvV...
..vvvaaaaaavvV..
..vVvaaaaaavVV..
..wwvaaaaaaVww..
..ww.aaaaaa.ww..
....vaaaaaaV....
....vvvvvvvV....
.....kk..kk.....
"""
_HEN = """
...r..........
..rwr.......w.
..www......ww.
.ywkww....wwW.
yywwwww..wwwW.
..rwwwwwwwwwW.
..rwwwWWWwwW..
...wwwwWWwWW..
....wwwwWWW...
......y.y.....
.....yy.yy....
"""
_CAT = """
.o........o.......
.oo......oo.......
.oooooooooo.......
.oweoooweooo......
.oooonoooooooo....
.owwnnwwooOooooo..
..owwwwooOooOooOo.
...oooooOooOooOoo.
..wwooowwoooooOoo.
....Oooooooooooooo
.......OOOOOOOOO..
"""
_PEOPLE = {
    "h": "e0ac4e", "H": "f9da86", "g": "a8713a", "r": "d8485a", "R": "8f2b4a", "s": "d8946a", "S": "f7c79a",
    "o": "7a3f2e", "e": "2b1b2e", "P": "ee9280", "w": "fdf3dc", "W": "cdb9b0", "b": "4f7fb8", "B": "33528a",
    "c": "86b4dc", "n": "6b3d32", "N": "452636",
}  # fmt: skip
_GRAN_COLOURS = {
    "g": "8f5aa0", "l": "c592cc", "G": "5f3a78", "w": "fdf3dc", "k": "3a2f45", "y": "f9da86", "e": "ffffff",
    "n": "2b1b2e", "v": "b8607a", "V": "7f3a5c", "a": "f3e2c0",
}  # fmt: skip
_CAT_COLOURS = {"o": "f0a04e", "O": "b8663a", "w": "fdf3dc", "e": "2b1b2e", "n": "d8485a"}
_HEN_COLOURS = {"r": "d8485a", "w": "fff8e8", "W": "d8b8a0", "k": "2b1b2e", "y": "f0a04e"}

_CABBAGE = """
...gGGg...
.gGLLLLGg.
gGLLwLLLGg
GLLwLLwLLG
GGLLwLLLGG
gGGLLLLGGg
.gGGGGGGg.
..gggggg..
"""
_PUMPKIN = """
.....gg...
....gG....
.oOOoOOoo.
oOwOOOOoOo
oOwOOOooOo
oOOoOOooOo
oOOoOOoOoo
.ooooooooo
"""
_SUNFLOWER = """
..yYYy..
.yYnnYy.
.YnbbnY.
.YnbbnY.
.yYnnYy.
..yYYy..
...gG...
.G.gG.G.
.GGgGGG.
..GgGG..
...gG...
...gG...
"""
_SPROUT = """
.G....G.
GLG..GLG
.GLGGLG.
..GLLG..
...GG...
...oo...
..oOOo..
...oo...
"""
_CROP_COLOURS = {
    "g": "2f5d3a", "G": "4f9448", "L": "9fd05f", "w": "e4f5a8", "o": "c9622f", "O": "f0913a", "y": "e8a83a",
    "Y": "ffdf5f", "n": "8a5230", "b": "5c3328",
}  # fmt: skip

_APPLE = """
..g.
.rrr
rwrr
rrrR
.RR.
"""
_PEAR = """
..g.
.yY.
.yyY
ywyg
yyyg
.gg.
"""
_FRUIT = {"g": "7a8a2f", "r": "e2483f", "R": "98283f", "w": "ffffff", "y": "f2d34f", "Y": "d8a83a"}

_SKEP = """
....yyyy....
...yYYYYo...
..oooooooo..
..yYYYYYyo..
.oooooooooo.
.yYYYYYYyyo.
oooooooooooo
yYYYkkYYYyyo
ooookkoooooo
.nnnnnnnnnn.
..n......n..
"""
_SKEP_COLOURS = {"y": "dca24c", "Y": "ffdf8a", "o": "a8713a", "k": "2b1b2e", "n": "6b3d32"}

_BASKET = """
...rrryyrr....
..rwryyryrrr..
nnnnnnnnnnnnnn
nLlLlLlLlLlLlN
.nLlLlLlLlLlN.
.nlLlLlLlLlLN.
..nNnNnNnNnN..
"""
_BASKET_COLOURS = {
    "r": "e2483f", "y": "f2d34f", "w": "ffffff", "n": "8a5230", "N": "5c3328", "L": "d8a05c", "l": "b0763f",
}  # fmt: skip

_ART: dict[str, tuple[str, dict[str, str]]] = {
    "keeper": (_KEEPER, _PEOPLE),
    "gran": (_GRAN, _GRAN_COLOURS),
    "hen": (_HEN, _HEN_COLOURS),
    "cat": (_CAT, _CAT_COLOURS),
    "cabbage": (_CABBAGE, _CROP_COLOURS),
    "pumpkin": (_PUMPKIN, _CROP_COLOURS),
    "sunflower": (_SUNFLOWER, _CROP_COLOURS),
    "sprout": (_SPROUT, _CROP_COLOURS),
    "basket": (_BASKET, _BASKET_COLOURS),
    "skep": (_SKEP, _SKEP_COLOURS),
    "apple": (_APPLE, _FRUIT),
    "pear": (_PEAR, _FRUIT),
}


def orchard_sprite(name: str, *, flip: bool = False) -> Sprite:
    """Return an outlined sprite by name, one of the keys of the table above; `flip` turns it round."""
    art = sprite(*_ART[name])
    return outlined(mirrored(art) if flip else art, INK)


def portrait() -> Frame:
    """Draw the old badger of the dialogue box, uint8 (36, 36, 3), spectacles one dot thick."""
    face = np.empty((36, 36, 3), dtype=np.uint8)
    face[:] = rgb("8fb8a0")
    face[::2, ::2] = rgb("9cc4a8")
    for code, blob in (
        (INK, (39, 18, 11, 17)), ("b8607a", (40, 18, 11, 16)), ("d98aa0", (38, 13, 8, 7)),
        (INK, (9, 5, 5, 5)),
        ("fdf3dc", (8.5, 4.5, 3.4, 3.4)), ("5a4a60", (10, 6, 3, 3)),
        (INK, (9, 31, 5, 5)), ("fdf3dc", (8.5, 31.5, 3.4, 3.4)), ("5a4a60", (10, 30, 3, 3)),
        (INK, (17, 18, 14, 15.5)), ("fdf3dc", (17, 18, 13, 14.5)), ("e8d2c0", (24, 18, 8, 11)),
        ("fdf3dc", (23, 17, 7.5, 10)),
    ):  # fmt: skip
        paint(face, oval(36, 36, blob), rgb(code))
    for side in (-1.0, 1.0):
        stripe = polygon(
            36, 36, [(3, 18 + side * 4), (4, 18 + side * 9), (20, 18 + side * 10), (20, 18 + side * 5)]
        )
        paint(face, stripe, rgb("3a2f45"))
        paint(
            face,
            polygon(
                36, 36, [(5, 18 + side * 7), (5, 18 + side * 9), (15, 18 + side * 11), (15, 18 + side * 9)]
            ),
            rgb("5a4a60"),
        )
        lens = (17.0, 18 + side * 7, 5.2, 5.2)
        paint(face, oval(36, 36, lens), rgb("f9da86"))
        paint(face, oval(36, 36, (17, 18 + side * 7, 4.2, 4.2)), rgb("b4c4d4"))
        paint(face, oval(36, 36, (17.5, 18 + side * 6.5, 2.6, 2.1)), rgb("1a1020"))
        face[16, int(18 + side * 6.5) - 1] = (255, 255, 255)
        face[14, int(18 + side * 9)] = (255, 255, 255)
    face[16, 16:21] = rgb("f9da86")
    paint(face, oval(36, 36, (24, 18, 2.2, 3.2)), rgb(INK))
    face[23, 17] = rgb("8a7a90")
    for dx in range(-4, 5):
        face[28 - (abs(dx) > 2) - (abs(dx) > 3), 18 + dx] = rgb("7a3f4e")
    # The lilac headscarf covers the crown.
    scarf = oval(36, 36, (10, 18, 10, 14)) & (np.mgrid[0:36, 0:36][0] < 7)
    paint(face, scarf, rgb("8f5aa0"))
    paint(face, scarf & (np.mgrid[0:36, 0:36].sum(axis=0) % 5 == 0), rgb("c592cc"))
    face[7, 5:32] = rgb("5f3a78")
    return face
