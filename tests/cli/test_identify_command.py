"""``scalesim identify``: from captures to a chain that predicts the same, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from scalesim.charts.kernel import kernel_chart
from scalesim.cli.main import main
from scalesim.core.operator_file import OperatorFile


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def capture(folder: Path, made: NDArray, count: int = 2) -> list[str]:
    """Write captures of a box's output: 720 samples, gain, lift and noise."""
    random, names = np.random.RandomState(0), []
    across = cv2.resize(made.astype(np.float32), (720, made.shape[0]), interpolation=cv2.INTER_AREA)
    for number in range(count):
        noisy = np.clip(0.03 + 0.92 * across + random.normal(0, 2 / 255, across.shape), 0, 1)
        names.append(str(folder / f"capture-{number}.png"))
        Image.fromarray((255 * noisy + 0.5).astype(np.uint8)).save(names[-1])
    return names


def chart() -> NDArray:
    return kernel_chart("720p60").frame


def unnamed() -> NDArray:
    """Return the output of a box with a kernel of no name: a wide Gaussian, every third line."""
    gauss = cv2.getGaussianKernel(15, 2.3).ravel()
    return cv2.sepFilter2D(chart(), -1, np.array([1.0]), gauss)[1::3]


def test_a_named_box(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """OpenCV's area mean to 480 lines, sent as fields: the chain it gives does just that."""
    made = cv2.resize(chart(), (1280, 480), interpolation=cv2.INTER_AREA)
    words = [*capture(tmp_path, made), "--mode", "720p60", "--json", "--out", str(tmp_path / "o")]
    code, out, _ = run(capsys, "identify", *words)
    document = json.loads(out)
    assert code == 0
    assert document["method"] == "line-average+interlace" and document["encoding"] == "code"
    assert document["field_relation"] == "half-line" and document["flicker_taps"] == "1"
    assert document["gain"] == pytest.approx(0.92, abs=0.01) and document["lift"] == pytest.approx(
        0.03, abs=0.01
    )
    assert document["chain"] == "line-average lines=480, interlace"
    assert document["check"]["ssim"] > 0.98 and document["confidence"] > 0.9
    assert sum(tap["weight"] for tap in document["kernel"]) == pytest.approx(1, abs=0.02)
    assert {"page", "plot", "operator", "chain", "captured", "predicted", "residual"} <= set(
        document["files"]
    )


@pytest.mark.slow
def test_a_box_without_a_name_is_predicted_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The operator file, through `measured`, gives the box's own picture of another frame."""
    words = [*capture(tmp_path, unnamed()), "--mode", "720p60", "--json", "--out", str(tmp_path / "o")]
    code, out, _ = run(capsys, "identify", *words)
    document = json.loads(out)
    assert code == 1 and document["method"] == "unknown" and "measured file=" in document["chain"]
    frame = cv2.resize(np.random.RandomState(1).rand(90, 160, 3).astype(np.float32), (1280, 720))
    Image.fromarray((255 * frame + 0.5).astype(np.uint8)).save(tmp_path / "frame.png")
    gauss = cv2.getGaussianKernel(15, 2.3).ravel()
    wanted = 255 * cv2.sepFilter2D(frame, -1, np.array([1.0]), gauss)[1::3]
    for number, chain in enumerate((document["chain"], str(tmp_path / "o" / "box.toml"))):
        words = ["predict", str(tmp_path / "frame.png"), "--chain", chain, "--metrics", "cropped_percent"]
        assert run(capsys, *words, "--out", str(tmp_path / f"p{number}"))[0] == 0
        made = np.asarray(Image.open(tmp_path / f"p{number}" / "raster.png")).astype(float)
        assert np.abs(made - wanted)[8:-8].mean() < 1.0


@pytest.mark.slow
def test_a_path_that_filters_is_divided_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path that blurs lines 1/6/1 makes an average look like something else, until it is undone."""

    def blurred(frame: NDArray) -> NDArray:
        taps = np.array([[0.125], [0.75], [0.125]])
        return cv2.filter2D(frame, -1, taps, borderType=cv2.BORDER_REPLICATE)

    def methods(*words: str) -> list[str]:
        code, out, _ = run(capsys, "identify", *words, "--json", "--force", "--out", str(tmp_path / "o"))
        assert code in (0, 1)
        return json.loads(out)["methods"]

    (tmp_path / "a").mkdir()
    straight = capture(tmp_path / "a", blurred(kernel_chart("240p").frame), 4)
    assert run(capsys, "identify", *straight, "--mode", "240p", "--out", str(tmp_path / "path"))[0] in (0, 1)
    box = cv2.resize(chart(), (1280, 240), interpolation=cv2.INTER_AREA)
    seen = [*capture(tmp_path, blurred(box), 4), "--mode", "720p60"]
    assert "line-average" not in methods(*seen)
    assert "line-average" in methods(*seen, "--path", str(tmp_path / "path" / "operator.json"))


@pytest.mark.slow
def test_the_operator_of_an_interlaced_source(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each field of 1080i averaged by itself: the file holds lines of one field, 540 to 240."""
    woven = kernel_chart("1080i60").frame
    made = np.empty((480, 1920, 3), np.float32)
    for parity in (0, 1):
        field = np.ascontiguousarray(woven[parity::2])
        made[parity::2] = cv2.resize(field, (1920, 240), interpolation=cv2.INTER_AREA)
    words = [*capture(tmp_path, made, 1), "--mode", "1080i60", "--out", str(tmp_path / "o")]
    assert run(capsys, "identify", *words)[0] == 0
    kept = OperatorFile.from_json((tmp_path / "o" / "operator.json").read_text("utf-8"))
    assert (kept.lines_in, kept.fields_in, kept.lines_out) == (540, 2, 240)
    assert kept.step == pytest.approx(2.25, abs=1e-3)
    for own in kept.fields:
        lines, weights = own.rows[100]
        assert sum(weights) == pytest.approx(1, abs=0.02) and abs(lines - 225) <= 1


@pytest.mark.parametrize(
    ("picture", "said"),
    [
        (np.zeros((240, 720, 3)), "black"),
        (np.ones((240, 720, 3)), "one flat tone (255"),
        (np.random.RandomState(0).rand(240, 720, 3), "no bars"),
        (np.full((16, 32, 3), 0.5), "16"),
    ],
)
def test_what_is_no_capture_of_the_chart(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], picture: NDArray, said: str
) -> None:
    Image.fromarray((255 * picture).astype(np.uint8)).save(tmp_path / "odd.png")
    words = [str(tmp_path / "odd.png"), "--mode", "720p60", "--out", str(tmp_path / "o")]
    code, _, err = run(capsys, "identify", *words)
    assert code == 2 and said in err and err.strip().count("\n") == 0 and not (tmp_path / "o").exists()


def test_captures_of_two_sizes_and_missing_ones(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = capture(tmp_path, chart()[1::3], 1)
    Image.new("RGB", (640, 240)).save(tmp_path / "other.png")
    for words, said in (([*one, str(tmp_path / "other.png")], "640x240"), (["none.png"], "none.png")):
        code, _, err = run(capsys, "identify", *words, "--mode", "720p60", "--out", str(tmp_path / "o"))
        assert code == 2 and said in err
    other = capture(tmp_path, kernel_chart("1080p60").frame[2::4][:240], 1)
    code, _, err = run(capsys, "identify", *other, "--mode", "720p60", "--out", str(tmp_path / "o"))
    assert code == 2 or "unknown" in err
