"""Weather from outside: forecasts, station files and climate records, in metric units and UTC."""
