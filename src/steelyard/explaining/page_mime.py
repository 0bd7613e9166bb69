"""How a notebook hands a page the picture that is meant for a phone."""

PHONE_PICTURE = "application/x-steelyard-phone-picture+xml"
PHONE_VARIABLE = "STEELYARD_PHONE_PICTURES"
