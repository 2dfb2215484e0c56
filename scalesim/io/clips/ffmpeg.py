"""The one door to PyAV, which brings FFmpeg: loaded when needed, and silent."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from scalesim.core.limits import CLIP_MEGAPIXELS
from scalesim.errors import LibraryError, ReadError, ScalesimError
from scalesim.io.clips.checksums import UNFIT, slice_check

RANGE = "av>=18.1,<20"
"""The versions of PyAV that were tried; the same stands in pyproject.toml."""
_MISUSE = (TypeError, AttributeError)
"""What Python raises for a call or a name a library does not have; FFmpeg's errors are of other kinds."""


def load_av() -> Any:
    """Return the `av` module; FFmpeg's own messages are kept off the user's terminal."""
    import av

    av.logging.set_level(None)
    return av


def misfit(error: Exception) -> LibraryError | None:
    """Return the error that names PyAV when the way it was used is what failed, None for any other."""
    if not isinstance(error, _MISUSE):
        return None
    return LibraryError(
        f"PyAV {load_av().__version__} does not answer as it should ({reason_of(error)}); "
        f'no file is at fault: pip install "{RANGE}"'
    )


def reason_of(error: Exception) -> str:
    """Return what FFmpeg or the system says of an error, short and on one line."""
    text = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return " ".join(str(text).split())[:100]


FORMATS = (
    "matroska,mov,mp4,avi,mpegts,mpeg,mpegvideo,h264,hevc,m4v,flv,asf,ogg,mxf,"
    "yuv4mpegpipe,dv,nut,apng,gif,webp"
)
"""FFmpeg's formats that hold a clip. Its others include lists of further files, which it would open."""
_SAFE = {"protocol_whitelist": "file", "format_whitelist": FORMATS}
_LIMITED = {"max_pixels": str(int(CLIP_MEGAPIXELS * 10**6))}
"""Of every decoder, the ones that look at a file's first pictures too, when a size is stated late."""


@contextmanager
def opened(path: str | os.PathLike[str], name: str) -> Iterator[tuple[Any, Any]]:
    """Open a file, give its container and video stream, and close it whatever happens.

    Raises: ReadError when FFmpeg cannot open it or it holds no video; LibraryError when PyAV does not fit
    """
    av = load_av()
    # Titles need not be UTF-8. From 19 on PyAV reads them as they are and no longer takes the keyword.
    tolerant = {"metadata_errors": "replace"} if int(av.__version__.split(".")[0]) < 19 else {}
    try:
        # "file:" in front, or a file named "concat:a" would be taken for a list of files.
        container = av.open(f"file:{os.fspath(path)}", options={**_SAFE, **_LIMITED}, **tolerant)
    except Exception as error:  # FFmpeg raises almost anything on what is no clip
        raise misfit(error) or ReadError(
            f"{name}: cannot be read as a clip ({reason_of(error)}): it is no clip, or its recording was cut "
            "off; record or export it again, best as .mkv"
        ) from None
    with container:
        cover = av.stream.Disposition.attached_pic
        streams = [stream for stream in container.streams.video if not stream.disposition & cover]
        if not streams:
            raise ReadError(f"{name}: holds no video stream: give a clip with pictures")
        if streams[0].codec_context is None:
            raise ReadError(
                f"{name}: its pictures are packed by a codec that is not known: export it as .mkv"
            )
        # Without this, decoders hide damage behind picture parts they make up.
        streams[0].codec_context.options = {"err_detect": "crccheck+explode", **_LIMITED}
        streams[0].thread_type = "AUTO"
        yield container, streams[0]


def whole_packets(container: Any, stream: Any) -> Iterator[tuple[Any, int]]:
    """Yield a stream's packets from the first key picture on, and how many were left out so far.

    A recording of a broadcast may begin anywhere: what comes before a key picture, and what comes after it
    but is shown before it, cannot be decoded. An empty packet stands for the end.
    """
    key, begun, left_out = None, False, 0
    for packet in container.demux(stream):
        if not begun and packet.size and packet.is_keyframe:
            key, begun = packet.pts, True
        leading = key is not None and packet.pts is not None and packet.pts < key
        if packet.size and (leading or not begun):
            left_out += 1
        else:
            yield packet, left_out


def frames_of(container: Any, stream: Any) -> Iterator[Any]:
    """Yield a stream's decoded frames, from the first key picture on.

    Raises: ReadError where a packet does not fit its checksums, and whatever the decoder raises
    """
    first, broken = True, slice_check(stream)
    for packet, left_out in whole_packets(container, stream):
        if first and left_out:
            # References that were left out are errors to a strict decoder.
            stream.codec_context.options = {"err_detect": "crccheck", **_LIMITED}
        first = False
        if broken(packet):
            yield from stream.codec_context.decode(None)
            raise ReadError(UNFIT)
        yield from packet.decode()


def damaged(name: str, good: int, error: Exception | None) -> ScalesimError:
    """Return the error of a clip that stops decoding after `good` pictures: of PyAV's use if that failed."""
    unfit = misfit(error) if error else None
    if unfit is not None:
        return unfit
    reason = f" ({reason_of(error)})" if error else ""
    return ReadError(
        f"{name}: damaged or cut short after {good} whole pictures{reason}: copy or record it again, or save "
        "those before the damage as a clip of their own"
    )
