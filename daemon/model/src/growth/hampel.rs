//! Single readings that do not belong with their neighbours.
