"""The write-up of the invented evening: what a reviewer would write around the results beside it."""

from __future__ import annotations

from scalesim.demo.bench import CLUB

ARTICLE = "article.md"
WRITTEN = "A write-up of these"
ARTICLE_TITLE = "What 240 lines keep"


def article_text() -> str:
    """Return the article, which places results that lie beside it."""
    return f'''+++
title = "{ARTICLE_TITLE}"
author = "{CLUB}"
summary = "Six chains, two frames, one box on the bench: what 720 lines lose on the way to a tube, and where."
+++

Every frame on this page is drawn, every box is a model, and the club does not exist. What is real is the
arithmetic: `article.md` beside the demonstration holds these words, and each figure is placed by naming the
folder it comes from.

![](comparison)

## Who leads, and by what

![](comparison#said)

No single number decides: [](#trade) sets the detail that a chain keeps against what it pays for it.

![](comparison#plot=trade-1 "trade")

![The medians that the ranking rests on.](comparison#table=medians-over-2-frames "medians")

## Where the picture sits

A line too high or too low, and a thin outline lies on two scan lines instead of one. This is the curve for
two frames before their lines are averaged and dropped.

![](tuning#plot=curve)

## What the box on the bench does

Nobody has to believe a data sheet: a chart goes in, a capture comes out, and the weights are read off.

![](identified#plot=kernel)

![](identified#said)

## Whether the signal agrees

![](traced#said)
'''
