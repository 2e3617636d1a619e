"""The job folder: documents, recordings and outputs on disk, each written whole or not at all."""

from roomwright.store._files import read_text
from roomwright.store.documents import dump_job, load_job
from roomwright.store.folder import JobFolder, create_job, open_job
from roomwright.store.wav import WavFacts, decode_wav, encode_wav, read_wav, wav_facts

__all__ = [
    "JobFolder",
    "WavFacts",
    "create_job",
    "decode_wav",
    "dump_job",
    "encode_wav",
    "load_job",
    "open_job",
    "read_text",
    "read_wav",
    "wav_facts",
]
