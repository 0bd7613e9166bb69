"""Write the invented studies of the shipped library anew."""

from __future__ import annotations

from pathlib import Path

from tests.invented.write import write_studies

if __name__ == "__main__":
    folder = Path(__file__).resolve().parents[2] / "evidence" / "studies"
    print(f"{len(write_studies(folder))} studies written")
