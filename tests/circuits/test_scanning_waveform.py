"""The composite signal has every pulse in its place and of its width, measured from the series itself."""

import math
from itertools import pairwise

import numpy as np
import pytest

from backporch.engine.circuits.scanning import STANDARDS, plain_source, standard
from backporch.engine.circuits.scanning_waveform import BROAD, EQUALIZING, LINE, composite_sync, composite_video
from backporch.engine.errors import OutOfRange

STEP = 1e-7


def _measured(made, level):
    """Return start and width of each stretch below a level, widths from the area under the pulse."""
    depth = np.clip(1.0 - made.level / level, 0.0, 1.0)
    below = depth > 1e-9
    starts = np.flatnonzero(below & ~np.concatenate([[False], below[:-1]]))
    ends = np.flatnonzero(below & ~np.concatenate([below[1:], [False]]))
    area = np.concatenate([[0.0], np.cumsum(depth)])
    late = 1.0 - depth[starts]
    return made.time_s[starts] + late * made.sample_s, (area[ends + 1] - area[starts]) * made.sample_s


def _counts(widths, wanted):
    return [int(np.isclose(widths, width, rtol=1e-6).sum()) if width else 0 for width in wanted]


class TestSyncTrain:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_each_field_has_its_pulses(self, name):
        """Both fields together hold twice the broad and four times the equalizing pulses of one group."""
        one, train = standard(name), composite_sync(standard(name))
        found = [int((train.kind == kind).sum()) for kind in (EQUALIZING, BROAD)]

        assert [4 * one.equalizing_count, 2 * one.broad_count] == found

    @pytest.mark.parametrize("name", STANDARDS)
    def test_every_line_starts_with_a_pulse(self, name):
        """There is a leading edge at the start of each of the frame's lines."""
        one, train = standard(name), composite_sync(standard(name))
        starts = np.isclose(np.mod(train.on_s / one.line_s + 0.25, 1.0), 0.25, atol=1e-6)

        assert one.lines == starts.sum()

    @pytest.mark.parametrize("name", STANDARDS)
    def test_fields_are_half_a_line_apart(self, name):
        """The second field's first broad pulse falls in the middle of a line, and so a whole field later."""
        one, train = standard(name), composite_sync(standard(name))
        broad = train.on_s[train.kind == BROAD]

        assert broad[0] == 0.0
        assert math.isclose(broad[one.broad_count], one.field_s, rel_tol=1e-12)
        assert math.isclose(broad[one.broad_count] / one.line_s % 1.0, 0.5, rel_tol=1e-6)

    def test_second_field_repeats_the_group(self):
        """The pulses within three lines of the broad ones are alike in both fields of 525 lines."""
        one, train = standard("525"), composite_sync(standard("525"), 3)
        groups = [train.kind[np.abs(train.on_s - n * one.field_s) < 3.01 * one.line_s].tolist() for n in (0, 1)]

        assert groups[0] == groups[1]

    def test_without_interlace_fields_are_alike(self):
        """A plain source of 524 lines starts both fields with a line."""
        made = plain_source(standard("525"))
        train = composite_sync(made)
        starts = train.on_s[train.kind == BROAD][:: made.broad_count] / made.line_s

        assert np.allclose(starts, [0.0, 262.0])
        assert not np.any(train.kind == EQUALIZING)

    def test_no_field_is_refused(self):
        """Less than one field has no pulses to show."""
        with pytest.raises(OutOfRange, match="fields is 0"):
            composite_sync(standard("625"), 0)


class TestPulseOrder:
    def test_525_first_equalizing_pulse_comes_a_line_after_the_sync(self):
        """The first equalizing pulse is a line behind the last line sync in field 1, half a line in field 2."""
        one, train = standard("525"), composite_sync(standard("525"), 3)
        first = [n for n in range(1, train.kind.size) if train.kind[n] == EQUALIZING and train.kind[n - 1] == LINE]
        gaps = [(train.on_s[n] - train.on_s[n - 1]) / one.line_s for n in first]

        assert np.allclose(gaps[:2], [0.5, 1.0])

    def test_525_line_ten_is_the_first_line_sync(self):
        """Counted from the first equalizing pulse the first line sync behind the group starts line 10."""
        one, train = standard("525"), composite_sync(standard("525"))
        start = train.on_s[train.kind == EQUALIZING][0]
        line = train.on_s[(train.kind == LINE) & (train.on_s > 0.0)][0]

        assert 1 + round((line - start) / one.line_s) == 10

    def test_625_line_six_is_the_first_line_sync(self):
        """Counted from the first broad pulse line 6 has the first line sync, and line 319 in the second field."""
        one, train = standard("625"), composite_sync(standard("625"))
        lines = 1 + np.round(train.on_s[train.kind == LINE] / one.line_s).astype(int)

        assert (lines[lines > 0][0], lines[lines > 311][0]) == (6, 319)

    def test_625_second_field_starts_in_line_313(self):
        """The first broad pulse of the second field comes in the middle of line 313."""
        one, train = standard("625"), composite_sync(standard("625"))

        assert math.isclose(312.5, train.on_s[train.kind == BROAD][5] / one.line_s)


class TestSeries:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_widths_and_counts_are_the_published_ones(self, name):
        """Pulses measured in the series have the widths and counts of the standard."""
        one = standard(name)
        _, widths = _measured(composite_video(one, 2, STEP), one.blanking_level)
        wanted = (one.line_sync_s, one.equalizing_s, one.broad_s)

        assert widths.size == sum(_counts(widths, wanted))
        assert [4 * one.equalizing_count, 2 * one.broad_count] == _counts(widths, wanted)[1:]

    @pytest.mark.parametrize("name", STANDARDS)
    def test_edges_are_where_the_events_are(self, name):
        """Leading edges measured in the series are those of the events."""
        one = standard(name)
        starts, _ = _measured(composite_video(one, 2, STEP), one.blanking_level)

        assert np.allclose(composite_sync(one).on_s, starts, atol=2e-10)

    @pytest.mark.parametrize("name", ["525/60", "625/50", "405/50"])
    def test_serrations_are_what_the_broad_pulses_leave(self, name):
        """The gaps between broad pulses measure half a line less a broad pulse."""
        one = standard(name)
        starts, widths = _measured(composite_video(one, 1, STEP), one.blanking_level)
        broad = np.flatnonzero(np.isclose(widths, one.broad_s, rtol=1e-6))
        gaps = [starts[b] - starts[a] - widths[a] for a, b in pairwise(broad)]

        assert one.broad_count - 1 == len(gaps)
        assert np.allclose(gaps, one.serration_s, atol=2e-10)

    @pytest.mark.parametrize("name", STANDARDS)
    def test_line_blanking_measures_its_width(self, name):
        """In a white picture the stretch below white has the length of the line blanking."""
        one = standard(name)
        made = composite_video(one, 1, STEP, 1.0)
        line = (made.time_s > 100.1 * one.line_s) & (made.time_s < 101.1 * one.line_s)
        blanked = np.clip((1.0 - made.level[line]) / (1.0 - one.blanking_level), 0.0, 1.0).sum() * STEP

        assert math.isclose(one.line_blanking_s, blanked, abs_tol=2 * STEP)

    def test_front_porch_precedes_the_sync(self):
        """Blanking starts a front porch before the leading edge of the line sync."""
        one = standard("625")
        made = composite_video(one, 1, 1e-8, 1.0)
        near = (made.time_s > 100 * one.line_s - 3e-6) & (made.time_s < 100 * one.line_s)
        start = made.time_s[near][np.argmax(made.level[near] < 0.9)]

        assert math.isclose(100 * one.line_s - one.front_porch_s, start, abs_tol=2e-8)

    @pytest.mark.parametrize("name", STANDARDS)
    def test_field_blanking_hides_the_picture_for_its_time(self, name):
        """No picture is seen from the start of a field until the field blanking is over."""
        one = standard(name)
        made = composite_video(one, 2, STEP, 1.0)
        white = made.time_s[made.level > 0.99]
        gap = np.max(np.diff(white))

        assert one.field_blanking_s < gap < one.field_blanking_s + 1.01 * one.line_blanking_s + one.line_s

    def test_625_picture_starts_with_half_of_line_23(self):
        """The first picture of 625 lines shows in the second half of line 23, the second at line 336."""
        one = standard("625")
        made = composite_video(one, 2, STEP, 1.0)
        white = made.time_s[made.level > 0.99] / one.line_s
        starts = [white[white > 5][0], white[white > 316][0]]

        assert [1 + int(start) for start in starts] == [23, 336]
        assert starts[0] % 1.0 > 0.5

    def test_levels_are_kept(self):
        """The series runs from the sync tip to white and never outside."""
        made = composite_video(standard("819"), 2, STEP, lambda across, _: across)

        assert (made.level.min(), made.level.max() <= 1.0) == (0.0, True)

    def test_picture_is_placed_across_and_down(self):
        """A picture white in its lower right quarter shows there only."""
        one = standard("525")
        made = composite_video(
            one, 1, STEP, lambda across, down: np.where((across > 0.5) & (down > 0.5), 1.0, 0.0)
        )
        white = made.time_s[made.level > 0.99]
        across = (np.mod(white, one.line_s) - one.sync_to_picture_s) / one.active_line_s

        assert math.isclose(0.5, across.min(), abs_tol=0.005)
        assert math.isclose(0.5, (white[0] - 18 * one.line_s) / (one.field_s - one.field_blanking_s), abs_tol=0.01)

    def test_mean_does_not_hang_on_the_step(self):
        """Any step gives the same mean level."""
        means = [composite_video(standard("405"), 1, step, 0.3).level.mean() for step in (1e-7, 3.7e-7, 1e-6)]

        assert np.allclose(means, means[0], rtol=2e-4)

    def test_a_step_that_is_far_too_short_is_refused(self):
        """A series without end is refused before memory is."""
        with pytest.raises(OutOfRange, match="sample_s is 1e-12"):
            composite_video(standard("625"), 1, 1e-12)

    def test_no_step_is_refused(self):
        """The step must be above zero."""
        with pytest.raises(OutOfRange, match="sample_s is 0"):
            composite_video(standard("625"), 1, 0.0)
