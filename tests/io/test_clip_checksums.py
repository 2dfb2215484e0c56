"""Damage that a decoder conceals is told by a file's checksums, as another build of FFmpeg says."""

from __future__ import annotations

import subprocess
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
import pytest
from clip_files import pattern

from scalesim.errors import ReadError
from scalesim.io.clips.ffmpeg import opened
from scalesim.io.clips.index import index_clip, tolerant
from scalesim.io.clips.read import read_clip

FFV1 = ("-c:v", "ffv1", "-g", "12")
SUMS = {
    "four slices": (*FFV1, "-slicecrc", "1", "-slices", "4"),
    "sixteen, range coder": (*FFV1, "-slicecrc", "1", "-slices", "16", "-coder", "1"),
}


def packets(path: Path) -> list[bytes]:
    with av.open(str(path)) as container:
        return [bytes(packet) for packet in container.demux(video=0) if packet.size]


def harm(path: Path, picture: int, at: float = 0.5) -> Path:
    """Change one byte within a picture's packet."""
    packet = packets(path)[picture]
    byte = int(at * len(packet))
    changed = packet[:byte] + bytes([packet[byte] ^ 0x10]) + packet[byte + 1 :]
    body = path.read_bytes()
    assert body.count(packet) == 1
    out = path.with_name(f"harmed{picture}-{path.name}")
    out.write_bytes(body.replace(packet, changed))
    return out


def complaints(path: Path) -> str:
    """Return what FFmpeg's program says while it decodes a file."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-err_detect", "crccheck"]
    done = subprocess.run([*command, "-i", str(path), "-f", "null", "-"], capture_output=True, timeout=60)
    return done.stderr.decode(errors="replace")


@pytest.mark.parametrize("how", SUMS)
@pytest.mark.parametrize("picture", [0, 17])
def test_a_changed_byte_is_told(tmp_path: Path, how: str, picture: int) -> None:
    whole = pattern(tmp_path / "a.mkv", 0.5, *SUMS[how])
    assert read_clip(whole).length == len(list(read_clip(whole).pictures())) == 30
    assert not complaints(whole)
    path = harm(whole, picture)
    assert "CRC mismatch" in complaints(path)
    taken = 0
    with pytest.raises(ReadError, match="damaged or cut short after"):
        for _ in read_clip(path).pictures():
            taken += 1
    assert taken <= picture


@pytest.mark.parametrize("at", np.linspace(0, 0.999, 12))
def test_wherever_it_lies(tmp_path: Path, at: float) -> None:
    """In slices, in their footers, in the picture's head: told after the pictures before it."""
    path = harm(pattern(tmp_path / "a.mkv", 0.3, *SUMS["four slices"]), 8, at)
    with pytest.raises(ReadError, match="after 8 whole pictures"):
        list(read_clip(path).pictures())


def test_a_study_lists_it_and_goes_on(tmp_path: Path) -> None:
    path = harm(pattern(tmp_path / "a.mkv", 0.5, *SUMS["four slices"]), 17)
    assert index_clip(path).frames == 30
    with opened(path, path.name) as (container, stream):
        found = list(tolerant(container, stream))
    assert [k for k, one in enumerate(found) if one.broken] == [17]
    assert "checksum" in found[17].broken and sum(len(one.frames) for one in found) == 29


@pytest.mark.parametrize(
    "options", [("-slicecrc", "0"), ("-level", "1"), ("-slicecrc", "0", "-slices", "16")]
)
def test_no_checksum_no_complaint(tmp_path: Path, options: tuple[str, ...]) -> None:
    path = pattern(tmp_path / "a.mkv", 0.5, *FFV1, *options)
    assert len(list(read_clip(path).pictures())) == 30
