"""What a visitor sees: values in, one HTML document out; no journal, no request, no clock."""
