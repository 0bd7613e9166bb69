"""The library of text records: the only reader and writer of it."""

from steelyard.records.question import Question
from steelyard.records.recommendation import Recommendation
from steelyard.records.record_set import RecordSet, load_records
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary

__all__ = ["Question", "Recommendation", "RecordSet", "Study", "Vocabulary", "load_records"]
