"""Studies that join several rooms of the library: data, statistics, words and page of one question."""
