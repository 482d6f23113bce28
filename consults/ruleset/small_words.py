"""The small words of English that carry no sign but turn, deny or join. Pure; collected by us, no source."""


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


# These begin another part of the sentence.
TURNS = _set("but although though however yet except whereas while because")
# These deny what follows.
NO = _set(
    """
    no not never none without nothing neither nor nobody isn't aren't don't doesn't didn't wasn't
    weren't won't haven't hasn't hadn't can't cannot couldn't wouldn't isnt arent dont doesnt didnt
    wasnt werent wont havent hasnt cant couldnt wouldnt ain't aint shouldn't
    """
)
# After these a "no" is about the speaker or the talk, not the plant: "I don't know why", "can't afford".
MIND = _set(
    """
    know sure think understand mind care help only matter believe remember say tell explain afford
    forget want need mean idea wonder problem doubt bother time lens loupe magnifier meter happened
    happen money lamp expert worry like
    """
)
# A "not" with these reaches back: "webs I did not see".
FOUND = _set("see saw seen find found spot spotted notice noticed")
# What was looked for, with these, is not there until it is found.
LOOKED = _set("checked looked searched check look")
# A "no" does not reach past these: "without one I can see".
PERSON = _set("i we they he she i'm i've")
# After these a "no" ends at "and": "they don't move and the leaf is green".
VERBAL = _set("don't doesn't didn't won't can't couldn't dont doesnt didnt wont cant cannot")
# "and" followed by these begins something new.
NEW_SUBJECT = _set("the it it's its they they're i i'm there my we that's now then")
# These tell nothing of a plant.
SMALL = _set(
    """
    a an the and or of on in at to it its it's is are was were be been they them their there this
    that these those i i'm i've me we our you your he she his her my have had has do does did will
    would can could with for from by as so very really just some any quite also still even get gets
    got getting go goes going went gone look looks looking looked like seem seems turn turns turned
    turning become becomes became come comes came coming kind sort bit lot lots almost nearly
    rather pretty now then here plant plants thing things one ones up out they're they've there's
    that's i'd we've you're theyve theyre thats single sign signs too if when where which what who
    more most much many every each all over about itself themselves monday tuesday wednesday
    thursday friday saturday sunday today show shows completely totally simply certainly into than
    well yes again own make makes made
    """
)
