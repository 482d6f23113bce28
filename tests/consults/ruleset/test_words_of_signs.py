"""Stories of spots, pests, stems, fruit and cuttings, told in other words than the rules' own phrases."""

import pytest

from consults.ruleset.loader import load_bundled
from consults.ruleset.words import propose


@pytest.mark.parametrize(
    ("story", "code"),
    [
        ("The pepper leaves are mottled, some parts pale green and others normal.", "mosaic-mottle"),
        ("There are brown rings on the leaves of one pepper.", "ringspots-lines"),
        (
            "Small black spots that look wet, with square corners, on the basil.",
            "water-soaked-angular-spots",
        ),
        ("Round brown spots each with a yellow halo.", "round-spots-halo"),
        ("Inside the dead spots I can see tiny black dots.", "black-dots-in-spots"),
        ("White squiggly lines run through the leaves.", "serpentine-mines"),
        ("Something is eating holes in my leaves at night.", "holes-chewed"),
        ("Only one side of the tomato is wilting, the other half is fine.", "one-sided-wilt"),
        ("I cut the stem open and there are brown streaks inside.", "stained-vessels"),
        ("My cuttings have gone black and mushy at the base.", "cutting-base-rotted"),
        ("After three weeks the clones still have no roots.", "cutting-no-roots"),
        ("It has been getting worse every day for two weeks.", "spreading-over-days"),
        ("Orange pustules under the mint leaves, and orange dust on my fingers.", "rust-pustules"),
        ("I pulled it out of the pot and there is white fluff with bugs on the roots.",
         "woolly-patches-on-roots"),
        ("My tomatoes are splitting as they ripen.", "fruit-cracked"),
        ("The veins of the new leaves are yellow but the leaf is green.", "pale-veins-young"),
    ],
)  # fmt: skip
def test_a_story_suggests_the_sign_it_tells_of(story: str, code: str) -> None:
    assert {p.code: p.present for p in propose(story, load_bundled().findings)}.get(code) is True


@pytest.mark.parametrize(
    ("story", "meant", "neighbour"),
    [
        ("White fluff on the roots.", "woolly-patches-on-roots", "roots-white-firm"),
        ("The new leaves are narrow like straps.", "narrow-blade-leaves", "distorted-young-leaves"),
        ("Stout little flies with pale spots on the wings.", "shore-flies", "fungus-gnats"),
        ("Orange bumps under the leaf that stain the finger.", "rust-pustules", "leaf-underside-blisters"),
        ("Sunburnt peppers.", "fruit-sunscald", "sunscald-patches"),
    ],
)
def test_a_sign_is_not_taken_for_its_neighbour(story: str, meant: str, neighbour: str) -> None:
    suggested = {p.code for p in propose(story, load_bundled().findings)}
    assert meant in suggested and neighbour not in suggested
