"""The cautions that go with every recommendation, and the word on invented data."""

GENERAL_CAUTIONS = (
    "This is general information about training studies, not medical advice and not a plan for "
    "one person.",
    "A physician's or physiotherapist's word on a person, and the rules of the place where one "
    "trains or works, come first. Pain, an injury, an illness or a pregnancy belongs with them.",
    "An average over studies does not say what one person will gain.",
)

INVENTED_DATA = "Invented data, for demonstration: no such people, place or paper exists."
