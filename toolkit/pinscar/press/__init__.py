"""From a request to a report in place: worker, kernel, manifest, verify, difference, watch."""
